import type { StarterKind } from '../server/items/kind-acts.ts';

const COMMON = 'Rule of thumb: common practice, no published source.';
/** Said wherever a small motor comes out. */
const EACH_MOTOR =
  'About half of small appliance motors turn out to be wound in aluminium (common practice, no published source): ' +
  'scratch each one.';

/** A kind without rules of thumb, as most are: what such a thing gives is learned by weighing it. */
const kind = (name: string, asIs: string | null, cautions: readonly string[] = [], note = ''): StarterKind => ({
  name,
  cautions,
  asIs,
  yields: [],
  note,
});

/**
 * The kinds of items a new ledger begins with; each may be renamed, changed or left out. `asIs` and the yields name
 * grades of the starter list. A rule of thumb stands only where there is common practice, and says so; nobody has
 * published how many minutes such a thing takes, so none has minutes.
 */
export const starterKinds: readonly StarterKind[] = [
  kind(
    'Washing machine',
    'Whole appliances',
    ['mercury', 'stored-charge'],
    'Old ones may have a mercury switch in the lid. The motor may have a capacitor. The weight at the bottom is concrete ' +
      `or iron. ${EACH_MOTOR}`,
  ),
  kind('Dryer', 'Whole appliances', ['asbestos'], EACH_MOTOR),
  kind(
    'Heat pump dryer',
    'Whole appliances',
    ['refrigerant'],
    'A dryer without an air hose to the outside may be one: it has a sealed refrigerant circuit.',
  ),
  kind(
    'Dishwasher',
    'Whole appliances',
    [],
    'Often a panel and tub of stainless: try a magnet on each. The pump motor is small.',
  ),
  kind('Stove or oven', 'Whole appliances', ['asbestos', 'mercury'], 'Old gas ones may have a mercury safety switch.'),
  kind(
    'Fridge or freezer',
    'Whole appliances',
    ['refrigerant', 'mercury'],
    'Old chest freezers may have a mercury switch in the lid light.',
  ),
  kind(
    'Window air conditioner',
    'Whole appliances',
    ['refrigerant', 'stored-charge'],
    'The fan motor has a capacitor.',
  ),
  kind('Portable air conditioner', 'Whole appliances', ['refrigerant', 'stored-charge']),
  kind('Dehumidifier', 'Whole appliances', ['refrigerant']),
  kind('Water cooler', 'Whole appliances', ['refrigerant'], 'The cold ones have a sealed refrigerant circuit.'),
  kind(
    'Microwave oven',
    'Shreddable steel',
    ['microwave', 'beryllia'],
    'Sold as it is, shut. What is behind the cover is for a trained person.',
  ),
  kind(
    'Ceiling fan',
    'Shreddable steel',
    [],
    `The motor sits in the middle; some hold copper, some aluminium. ${EACH_MOTOR}`,
  ),
  kind('Table or floor fan', 'Shreddable steel', [], EACH_MOTOR),
  kind(
    'Vacuum cleaner',
    null,
    ['wound-spring', 'lithium'],
    `The cord reel has a wound spring; cordless ones have a lithium pack. ${EACH_MOTOR}`,
  ),
  kind('Small kitchen appliance', null, [], EACH_MOTOR),
  kind('Hair dryer, toaster or iron', 'Shreddable steel', ['asbestos']),
  kind(
    'Electric heater',
    'Shreddable steel',
    ['asbestos', 'mercury'],
    'Storage heaters of before about 1980 may hold asbestos. Some have a mercury tilt switch.',
  ),
  kind(
    'Water heater',
    'Shreddable steel',
    ['asbestos', 'mercury'],
    'Drained and dry. Brass and copper at its fittings.',
  ),
  kind(
    'Thermostat, wall',
    null,
    ['mercury'],
    'Round ones with a glass bulb hold mercury: whole to a collection point.',
  ),
  kind(
    'Tube light fixture',
    'Shreddable steel',
    ['pcb', 'mercury'],
    'The tubes and an unmarked ballast go to a collection point.',
  ),
  kind('Television with picture tube', null, ['picture-tube', 'stored-charge'], 'Handed in whole, shut.'),
  kind('Flat television', null, ['mercury', 'stored-charge'], 'Older ones are lit by mercury lamps behind the screen.'),
  kind(
    'Computer monitor, flat',
    null,
    ['mercury', 'stored-charge'],
    'Older ones are lit by mercury lamps behind the screen.',
  ),
  kind(
    'Desktop computer',
    'Computers, whole',
    ['stored-charge', 'lithium'],
    'The power supply stays shut. A button cell sits on the main board.',
  ),
  kind('Laptop computer', null, ['lithium'], 'The pack comes out first.'),
  kind('Printer', null, ['stored-charge'], `Steel shafts and small motors in much plastic. ${EACH_MOTOR}`),
  kind(
    'Battery backup for computers',
    null,
    ['lead-acid', 'stored-charge'],
    'The battery comes out first where it has a door of its own.',
  ),
  kind(
    'Stereo or amplifier',
    'Light iron from electronics',
    ['stored-charge'],
    'Transformer and heat sink are the heavy parts: try a magnet, then a scratch.',
  ),
  kind('Flash unit or camera', null, ['stored-charge', 'lithium']),
  kind('Power tool with battery', null, ['lithium'], `The pack comes off first. ${EACH_MOTOR}`),
  kind('Power tool with cord', null, [], EACH_MOTOR),
  kind(
    'Lawn mower',
    'Shreddable steel',
    ['wound-spring'],
    'Drained of fuel and oil. The recoil starter has a wound spring. The deck may be cast aluminium.',
  ),
  kind('Mobility scooter', null, ['lead-acid', 'lithium'], 'The batteries come out first.'),
  {
    ...kind(
      'Electric motor, loose',
      'Electric motors',
      ['stored-charge'],
      `${COMMON} Of copper-wound ones only. ${EACH_MOTOR}`,
    ),
    yields: [['No. 2 copper wire', '10']],
  },
  kind('Lead-acid battery', 'Lead-acid batteries, wet', ['lead-acid'], 'Sold whole and shut.'),
  {
    ...kind('Extension and appliance cords', 'Insulated wire, low recovery', [], COMMON),
    yields: [['No. 2 copper wire', '40']],
  },
  {
    ...kind('Single building wire offcuts', 'Insulated wire, high recovery', [], COMMON),
    yields: [['No. 1 copper wire', '60']],
  },
  kind(
    'Building cable offcuts',
    'Insulated wire, medium recovery',
    [],
    'Two or three conductors in an outer jacket. Weigh a piece before and after to learn its share.',
  ),
  kind('Light string', 'Light strings'),
  kind('Tap', 'Brass taps', [], 'File through the chrome: yellow or pink is brass, grey is zinc.'),
  kind('Radiator, brass and copper', 'Copper and brass radiators', [], 'Drained.'),
  kind('Heating radiator, steel', 'Shreddable steel', [], 'Drained. A thick one that rings dull may be cast iron.'),
  kind(
    'Pots and pans',
    'Old sheet aluminium',
    [],
    'Try a magnet on each: aluminium and most stainless are not held. Stainless is heavier.',
  ),
  kind('Aluminium window or door frame', 'Aluminium extrusion, mixed', [], 'Without glass, felt and screws.'),
  kind(
    'Bicycle',
    'Shreddable steel',
    [],
    'A frame that a magnet does not hold is aluminium. Call one “electric bicycle” and its caution comes up: it has a lithium pack.',
  ),
  kind('Bed frame or shelf', 'Shreddable steel'),
];
