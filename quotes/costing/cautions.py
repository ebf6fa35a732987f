"""The usual cautions, one sentence each. They never overrule a product's safety data sheet or local codes.

That the data sheet rules is said once below all of them, by whoever shows them.
"""

SHEET_RULES = "The product's safety data sheet and local rules come first."
STYRENE = "Styrene vapour burns and harms: ventilate, organic-vapour mask, no flame."
PEROXIDE = "MEKP blinds and can ignite: goggles and gloves; never near acetone, metal or rags."
EPOXY_SKIN = "Epoxy sensitises skin: gloves, sleeves, no solvent on skin."
ISOCYANATE = "Foam liquid holds isocyanate: ventilate, gloves, mask; once sensitised, stop for good."
FOAM_HEAT = "A big foam batch heats itself and may smoke: keep to the batch size, pour in layers."
DUST = "Glass and foam dust: FFP3 mask, extraction, goggles; wet where possible."
CUTTER = "The cutter kicks: clamp the jig, both hands, goggles and ear protection."
CLEAR_ISOCYANATE = "Two-pack clear holds isocyanate: air-fed mask only, nobody else in the room."
SPRAY_MIST = "Spray mist and solvent burn: booth or open air, spray mask, no flame."
CYANOACRYLATE = "Cyanoacrylate bonds skin at once and its vapour stings: goggles, no leaning over."
MICROSPHERES = "Microspheres float in the air: mask on before the tin is opened; stir in after the hardener."
EPS_HEAT = "EPS softens: keep everything below 50 °C."
SOLVENT = "Acetone lights at a spark: lidded metal can for rags; left-over resin outdoors in water."
BLADE = "Fresh blade, cut away from the hand."
RATIO = "Weigh by the label; the ratio is never changed to change the speed."
