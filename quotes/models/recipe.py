"""Recipes as rows: a name, numbered versions of what it says, and the draft of the next one."""

from __future__ import annotations

from django.db import models
from django.db.models import OuterRef, Subquery

from shop.models import Row, User


class RecipeQuerySet(models.QuerySet["Recipe"]):
    """Recipes as screens ask for them."""

    def in_use(self) -> RecipeQuerySet:
        """Recipes that are not retired."""
        return self.filter(retired_at__isnull=True)


class Recipe(Row):
    """A way of doing a kind of repair; retired, never deleted."""

    key = models.SlugField("short name", max_length=60, unique=True)
    name = models.CharField("name", max_length=120)
    retired_at = models.DateTimeField(null=True, blank=True)
    reference = models.JSONField(
        "the board and measures its price is shown for",
        default=dict,
        blank=True,
        help_text="{'board': {core, resin, skin}, 'measures': name to what was typed}; empty: a usual board.",
    )

    objects = RecipeQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def current(self) -> RecipeVersion:
        """Last version of the recipe."""
        version = self.versions.order_by("-number").first()
        assert version is not None, f"recipe {self.key} has no version"
        return version


class RecipeVersionQuerySet(models.QuerySet["RecipeVersion"]):
    """Versions of recipes as screens ask for them."""

    def current(self) -> RecipeVersionQuerySet:
        """The last version of each recipe in use, by recipe name."""
        last = RecipeVersion.objects.filter(recipe=OuterRef("recipe")).order_by("-number").values("number")[:1]
        return (
            self.filter(recipe__retired_at__isnull=True, number=Subquery(last))
            .select_related("recipe")
            .order_by("recipe__name")
        )


class RecipeVersion(Row):
    """What a recipe said at one time; a quote keeps the version it was priced with."""

    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    body = models.JSONField()
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True)
    copied_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="copies", help_text="Empty: no copy."
    )

    objects = RecipeVersionQuerySet.as_manager()

    class Meta:
        ordering = ["recipe", "number"]
        constraints = [models.UniqueConstraint(fields=["recipe", "number"], name="recipe_version_once")]

    def __str__(self) -> str:
        return f"{self.recipe.name}, version {self.number}"


class RecipeDraft(Row):
    """The next version of a recipe while it is being written, kept with each change; gone once saved or dropped."""

    recipe = models.OneToOneField(
        Recipe, on_delete=models.PROTECT, null=True, related_name="draft", help_text="Empty: not saved even once."
    )
    key = models.SlugField("short name", max_length=60, unique=True)
    body = models.JSONField()
    reference = models.JSONField(default=dict, blank=True)
    copied_from = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, null=True, related_name="+")
    turn = models.PositiveIntegerField("changes so far", default=0)
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["-changed_at"]

    def __str__(self) -> str:
        return f"draft of {self.body.get('name', self.key)}"
