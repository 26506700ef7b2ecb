"""Makes a passphrase to read from one screen and type on another: plain words of field and workshop."""

from __future__ import annotations

import secrets

WORDS_SAID = 4
LOWEST_NUMBER, HIGHEST_NUMBER = 10, 99

_TOLD = """
acorn adze alder alloy amber ankle anvil apple apron arbor armour arrow ash aspen auger autumn awning axle
badger bag bale bank bark barley barn barrel barrow basalt basin basket batch beach beam bean bear beaver
bed bee beech bell bench bend berry billow birch blade blanket bloom board boat bog bone bonfire boot border
bottle boulder bowl box bracken bramble branch brass bread breeze brick bridge brine broom brook brown brush
bucket bud bundle burrow bush butter button cabin cable cairn calm camp canal candle canoe canvas cape
carrot cart castle cattle cave cedar cellar chain chalk charcoal cherry chest chestnut chimney chisel clay
cliff cloak clod cloth cloud clover coal coat cobalt cobble coil compass cone copper coral cord corn corner
cotton cove cow crane crate creek crest crock crop crow crust cup curlew current dam dawn day deer delta
desk dew dill dish ditch dock donkey door dough dove drain drift drill drum dry duck dune dusk dust eagle
earth east easel echo edge eel egg elbow elder elk elm ember engobe estuary evening ewer falcon farm feather
fence fennel fern ferry fiddle field fig finch finger fir fire fish flag flame flask flax fleece flint flood
floor flour flow flute foal fog foil fold foot ford forest forge fork fossil fox frame frog frost furnace
furrow gable gap garden garlic garnet gate gauge ginger glass glaze glen gneiss goat gold goose gorse grain
granite grape grass gravel green grit grog grove gull gully gutter hail hammer handle harbour hare harrow
harvest hatch hawk hay hazel heap heart hearth heath hedge helmet hemp hen herb heron hill hinge hive hoe
hollow holly honey hood hoof hook hop horn horse hound house ice inlet iris iron island ivy jacket jar
jasper jetty jug juniper kale kaolin kelp kettle key kiln kite knapsack knife knot ladder ladle lake lamb
lamp lane lantern larch lark lava lawn leaf leather ledge lemon lentil level lichen lid lime linen linnet
lizard loam log loom lynx maize mallet maple marble marigold marl marsh mast meadow medal mender mica milk
mill mint mist mole moon moor morning moss moth mountain mouse mud mug muslin needle nest nettle newt night
north notch nut oak oar oats ochre olive onion orchard otter oven owl paddle pail paint palm pan paper
parsley pasture path peach pear peat pebble peg pepper pine pipe pitcher plain plank plaster plate plough
plum pocket pole pond poplar poppy post pot potter prairie press puddle pulley pump quail quarry quartz
quill quilt rabbit rail rain rake ram ravine raven reed reef ribbon ridge rim ring river road robin rock
roof root rope rose rowan rudder rush rust rye sack saddle sage sail salmon salt sand sandal sash saw scarf
scoop sea seam season seed shale shed sheep shelf shell shingle shore shovel sieve silk silt silver skylark
slate sledge slip slope snail snow soil sorrel south spade spark sparrow spout spring spruce square stable
stairs starling stem stick stone stool stork storm stove straw stream string stump summer sun swallow swan
table tallow tank tarn tea tent terrace thatch thicket thistle thorn thread thrush thyme tide tile timber
toad torch tower track trail tray trench trough trout trowel tub tulip tunnel turf turnip turtle twig twine
upland urn valley vane vase vein vine violet wagon wall walnut water wave wax weather wedge weir well west
wharf wheat wheel whistle willow wind window wing winter wire wolf wood wool wren yard yarrow yeast yew
"""
WORDS: tuple[str, ...] = tuple(_TOLD.split())
"""Words of our own choosing, three to eight letters, each easy to tell from the others when read aloud."""


def make_passphrase() -> str:
    """Return four words and a number, chosen by the system's own source of chance.

    Each of the equally likely results has the same chance: `len(WORDS) ** 4 * 90` of them, over 40 bits.
    """
    said = [secrets.choice(WORDS) for _ in range(WORDS_SAID)]
    number = LOWEST_NUMBER + secrets.randbelow(HIGHEST_NUMBER - LOWEST_NUMBER + 1)
    return " ".join([*said, str(number)])
