"""The usual cautions, one sentence each. They never overrule a product's safety data sheet or local codes."""

SHEET_RULES = "The product's safety data sheet and local rules come first."
STYRENE = "Styrene vapour burns and harms: ventilate, organic-vapour mask, no flame. " + SHEET_RULES
PEROXIDE = "MEKP blinds and can ignite: goggles and gloves; never near acetone, metal or rags. " + SHEET_RULES
EPOXY_SKIN = "Epoxy sensitises skin: gloves, sleeves, no solvent on skin. " + SHEET_RULES
ISOCYANATE = "Foam liquid holds isocyanate: ventilate, gloves, mask; once sensitised, stop for good. " + SHEET_RULES
FOAM_HEAT = "A big foam batch heats itself and may smoke: keep to the batch size, pour in layers."
DUST = "Glass and foam dust: FFP3 mask, extraction, goggles; wet where possible."
CUTTER = "The cutter kicks: clamp the jig, both hands, goggles and ear protection."
CLEAR_ISOCYANATE = "Two-pack clear holds isocyanate: air-fed mask only, nobody else in the room. " + SHEET_RULES
SPRAY_MIST = "Spray mist and solvent burn: booth or open air, spray mask, no flame. " + SHEET_RULES
CYANOACRYLATE = "Cyanoacrylate bonds skin at once and its vapour stings: goggles, no leaning over. " + SHEET_RULES
MICROSPHERES = "Microspheres float in the air: mask on before the tin is opened; stir in after the hardener."
EPS_HEAT = "EPS softens: keep everything below 50 °C."
SOLVENT = "Acetone lights at a spark: lidded metal can for rags; left-over resin outdoors in water. " + SHEET_RULES
BLADE = "Fresh blade, cut away from the hand."
RATIO = "Weigh by the label; the ratio is never changed to change the speed."
