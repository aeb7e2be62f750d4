import type { GradeFamily } from '../server/ledger/families.ts';
import type { MassUnit } from '../server/units/mass.ts';

export interface StarterGrade {
  name: string;
  family: GradeFamily;
  /** The unit in which yards mostly quote it. */
  quotedPer: MassUnit;
  /** The industry circular's code word; empty where there is none, or none that could be confirmed. */
  code: string;
  /** What a yard would call it when it calls it lower: the name of another grade in the list. */
  fallsBackTo: string | null;
  recognise: string;
  spoiledBy: string;
}

/**
 * The grades a new ledger begins with; every one can be renamed or left out. Names are trade names. Code words are those
 * of the scrap specifications circular of ReMA (formerly ISRI), facts only; the hints are our own words and common
 * practice. A slash parts two code words for one title. Copper families first, in the order of gradeFamilies.
 */
export const starterGrades: readonly StarterGrade[] = [
  {
    name: 'Bare bright copper',
    family: 'copper',
    quotedPer: 'lb',
    code: 'Barley',
    fallsBackTo: 'No. 1 copper wire',
    recognise:
      'Stripped wire, shiny as new, each strand thicker than the wire of a paper clip. A fresh cut is red through and through.',
    spoiledBy: 'Tarnish, tin plating, enamel, solder, bits of insulation, hair-thin strands.',
  },
  {
    name: 'No. 1 copper wire',
    family: 'copper',
    quotedPer: 'lb',
    code: 'Berry',
    fallsBackTo: 'No. 2 copper wire',
    recognise:
      'Clean bare wire that has gone brown, without any coating. A file shows red through and through; a white core is aluminium with a copper skin.',
    spoiledBy: 'Solder, plating, enamel, paint, burnt or brittle strands, fine wire.',
  },
  {
    name: 'No. 1 copper tube',
    family: 'copper',
    quotedPer: 'lb',
    code: 'Candy',
    fallsBackTo: 'No. 2 copper',
    recognise: 'Clean tube, bar or heavy pieces without joints. Red under the file, and a magnet does not hold.',
    spoiledBy: 'Soldered or brazed joints, brass fittings, paint, scale. Cut them off and put them in No. 2.',
  },
  {
    name: 'No. 2 copper wire',
    family: 'copper',
    quotedPer: 'lb',
    code: 'Birch',
    fallsBackTo: 'Light copper',
    recognise:
      'Enamelled, tinned, dark or fine bare wire, such as windings. Windings may be aluminium: scratch each one, it must show red.',
    spoiledBy: 'Iron cores, paper, tape, resin, insulation, aluminium windings that only look like copper.',
  },
  {
    name: 'No. 2 copper',
    family: 'copper',
    quotedPer: 'lb',
    code: 'Cliff',
    fallsBackTo: 'Light copper',
    recognise:
      'Tube and solids with solder, paint or tarnish, without other metals hanging on. Red under the file, heavy in the hand; yellow is brass.',
    spoiledBy: 'Brass ends, steel clips, heavy solder, scale, foam or rubber sleeves.',
  },
  {
    name: 'Light copper',
    family: 'copper',
    quotedPer: 'lb',
    code: 'Dream',
    fallsBackTo: null,
    recognise:
      'Thin sheet, gutters, boilers and kettles, burnt or very fine hair wire. Bends easily by hand, and a scratch is red.',
    spoiledBy: 'Tar, roofing felt, lead seams, iron rims, thick paint.',
  },
  {
    name: 'Insulated wire, high recovery',
    family: 'insulated wire',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Insulated wire, medium recovery',
    recognise:
      'Single thick copper conductors in one thin layer of plastic, as in building conduit. Heavy for its size; the cut end is red.',
    spoiledBy: 'Plugs, second jackets, tin on the copper, aluminium conductors mixed in.',
  },
  {
    name: 'Insulated wire, medium recovery',
    family: 'insulated wire',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Insulated wire, low recovery',
    recognise:
      'Sheathed house cable: two layers, each conductor in its own and all in an outer jacket, often with paper. The cut ends are red.',
    spoiledBy: 'Staples, boxes, tape, steel armour. Wire with burnt insulation is refused.',
  },
  {
    name: 'Insulated wire, mixed',
    family: 'insulated wire',
    quotedPer: 'lb',
    // The public list gives both words with one title and does not say which recovery either stands for.
    code: 'Druid / Droid',
    fallsBackTo: 'Insulated wire, low recovery',
    recognise: 'Several sorts of copper cable in one bin. Cut one end: the conductor must be red inside.',
    spoiledBy: 'Light cords in quantity, plugs, glass fibre, aluminium conductors.',
  },
  {
    name: 'Insulated wire, low recovery',
    family: 'insulated wire',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Light strings',
    recognise:
      'Appliance cords, data and telephone cable, harness: two layers or more of plastic around fine strands. Light in the hand for its size.',
    spoiledBy: 'Plugs, transformers on the cord, steel clips, shielding of aluminium foil.',
  },
  {
    name: 'Light strings',
    family: 'insulated wire',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: null,
    recognise:
      'Festive lights as they come, with sockets: hair-thin strands in thick plastic, light in the hand. Take glass bulbs out with gloves on.',
    spoiledBy: 'Glass bulbs, plastic figures, battery boxes, steel frames.',
  },
  {
    name: 'Insulated aluminium wire',
    family: 'insulated wire',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: null,
    recognise: 'Light for its thickness, and the cut end is silver-white. Some is copper only on the skin: scratch it.',
    spoiledBy: 'Steel core, connectors, copper wire mixed in.',
  },
  {
    name: 'Red brass',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: 'Ebony',
    fallsBackTo: 'Yellow brass',
    recognise:
      'Valves, meters and heavy fittings whose fresh file mark is pinkish, not yellow. Heavy in the hand, and a magnet does not hold.',
    spoiledBy: 'Iron handles and stems, yellow brass mixed in, chrome, grit.',
  },
  {
    name: 'Yellow brass',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: 'Honey',
    fallsBackTo: 'Brass with iron',
    recognise: 'Fittings, lamp and lock parts; a fresh file mark is clear yellow, and a magnet does not hold.',
    spoiledBy: 'Steel screws, springs, plastic inserts, zinc castings that are only brass-plated.',
  },
  {
    name: 'Yellow brass castings',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: 'Ivory',
    fallsBackTo: 'Yellow brass',
    recognise: 'Cast pieces with a slightly rough skin, yellow under the file. A magnet does not hold.',
    spoiledBy: 'Iron bolts, aluminium or manganese bronzes, paint and grit.',
  },
  {
    name: 'Brass taps',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: 'Grape',
    fallsBackTo: 'Brass with iron',
    recognise: 'Taps and mixers, plated or not. File through the chrome: yellow or pink below is brass, grey is zinc.',
    spoiledBy: 'Zinc bodies and handles, steel hoses, plastic cartridges.',
  },
  {
    name: 'Nickel silver',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: 'Maize / Major',
    fallsBackTo: 'Yellow brass',
    recognise: 'Silver-white, not magnetic, heavy, with a yellowish file mark: old cutlery, keys, contact springs.',
    spoiledBy: 'Steel blades, thick plating, solder.',
  },
  {
    name: 'Copper and brass radiators',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: 'Ocean',
    fallsBackTo: 'Brass with iron',
    recognise:
      'Old radiators with brass tanks and copper fins, drained. Scratch both: yellow tank, red fins. White fins are aluminium, another grade.',
    spoiledBy: 'Iron brackets, plastic tanks, aluminium fins, coolant left inside.',
  },
  {
    name: 'Brass with iron',
    family: 'brass and bronze',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Shreddable steel',
    recognise: 'Brass with steel that does not come off quickly; the magnet pulls somewhere.',
    spoiledBy: 'More iron than brass: then it is paid as steel.',
  },
  {
    name: 'Aluminium wire',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Talon',
    fallsBackTo: 'Old sheet aluminium',
    recognise:
      'Bare, soft, silver-white wire, a third of the weight of copper. Where a magnet holds, it has a steel core.',
    spoiledBy: 'Steel core, insulation, hair wire, screws and connectors.',
  },
  {
    name: 'Aluminium extrusion',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Toto',
    fallsBackTo: 'Aluminium extrusion, mixed',
    recognise:
      'Profiles of one cross-section, such as frames, rails and heat sinks, clean and bare. Light, white under a scratch, no pull on a magnet.',
    spoiledBy: 'Screws, rubber seals, thermal breaks, paint, steel corners.',
  },
  {
    name: 'Aluminium extrusion, mixed',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Tutu',
    fallsBackTo: 'Old sheet aluminium',
    recognise:
      'Profiles of several alloys, some painted or anodised. Light, white under the file, and a magnet does not hold.',
    spoiledBy: 'Screws, felt and rubber, glass, steel inserts.',
  },
  {
    name: 'Old sheet aluminium',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Taint/Tabor',
    fallsBackTo: 'Aluminium with iron',
    recognise: 'Sheet, pans, gutters and plain housings. Light, dull grey-white, and a magnet does not hold.',
    spoiledBy: 'Steel rivets and handles, plastic, grease, foil, thick paint.',
  },
  {
    name: 'Painted aluminium siding',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Tale',
    fallsBackTo: 'Old sheet aluminium',
    recognise: 'Thin house cladding with paint on one or both sides. Light, bends by hand, white under a scratch.',
    spoiledBy: 'Foam backing, tar, nails, steel siding mixed in: test each stack with a magnet.',
  },
  {
    name: 'Cast aluminium',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Tense',
    fallsBackTo: 'Aluminium with iron',
    recognise:
      'Thick housings and washer spiders; light for their size, white under the file. Breaks instead of bending, and the break is grainy.',
    spoiledBy: 'Steel bearings, studs and shafts; zinc castings, which are far heavier.',
  },
  {
    name: 'Drinks cans',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Talc',
    fallsBackTo: null,
    recognise: 'Empty, dry aluminium cans. Test with a magnet: some are steel.',
    spoiledBy: 'Liquid, steel cans, food trays and foil. A deposit may be worth more than the metal.',
  },
  {
    name: 'Aluminium and copper radiators',
    family: 'aluminium',
    quotedPer: 'lb',
    code: 'Talk',
    fallsBackTo: 'Aluminium with iron',
    recognise:
      'Air-conditioner coils: tubes red under a scratch, white fins, iron ends cut off. ' +
      'Refrigerant first recovered by a licensed technician; local rules apply.',
    spoiledBy: 'Iron ends and brackets, dirt in the fins, steel tubes.',
  },
  {
    name: 'Aluminium with iron',
    family: 'aluminium',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Shreddable steel',
    recognise: 'Aluminium with steel that does not come off quickly; the magnet pulls somewhere.',
    spoiledBy: 'More iron than aluminium, plastic, wood, oil.',
  },
  {
    name: 'Stainless 304',
    family: 'stainless',
    quotedPer: 'lb',
    code: 'Sabot',
    fallsBackTo: 'Stainless, magnetic',
    recognise: 'Washer drums, sinks and pans. Bright, no rust, and a magnet holds weakly or not at all.',
    spoiledBy: 'Steel shafts and bolts, aluminium spiders, plastic rings, sound-deadening pads.',
  },
  {
    name: 'Stainless, magnetic',
    family: 'stainless',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Shreddable steel',
    recognise: 'No rust although a magnet holds firmly: dishwasher panels, blades, trim.',
    spoiledBy: 'Plain steel with chrome on it: file an edge and look for rust.',
  },
  {
    name: 'Soft lead',
    family: 'lead and zinc',
    quotedPer: 'lb',
    code: 'Racks',
    fallsBackTo: 'Mixed lead',
    recognise: 'Very heavy, dull grey, marks paper, takes a thumbnail scratch. Gloves on; wash hands before eating.',
    spoiledBy: 'Solder, dirt, iron, hard lead. Do not melt or grind it.',
  },
  {
    name: 'Mixed lead',
    family: 'lead and zinc',
    quotedPer: 'lb',
    code: 'Radio',
    fallsBackTo: null,
    recognise:
      'Soft and hard lead together, without batteries or wheel weights. Very heavy, dull grey, no pull on a magnet. Gloves on; wash hands before eating.',
    spoiledBy: 'Iron clips, dross, zinc, picture-tube glass.',
  },
  {
    name: 'Lead-acid batteries, wet',
    family: 'lead and zinc',
    quotedPer: 'lb',
    code: 'Rink',
    fallsBackTo: null,
    recognise:
      'Whole and closed, from alarms, power backups and vehicles. Keep upright in an acid-proof tray, poles apart.',
    spoiledBy:
      'A cracked case, or other chemistries mixed in. Never open or drain one; lithium goes to a collection point.',
  },
  {
    name: 'Zinc die cast',
    family: 'lead and zinc',
    quotedPer: 'lb',
    code: 'Saves',
    fallsBackTo: null,
    recognise:
      'Handles, lock and tap parts: heavier than aluminium, a dull grey file mark under the plating, and a magnet does not hold.',
    spoiledBy: 'Steel pins and springs, heavy plating, aluminium or brass mixed in.',
  },
  {
    name: 'Clean steel clippings',
    family: 'ferrous',
    quotedPer: 'net ton',
    code: 'FS 207',
    fallsBackTo: 'Heavy melting steel, No. 1',
    recognise: 'New, clean offcuts of sheet steel without paint or coating. A magnet holds at once.',
    spoiledBy: 'Zinc coating, enamel, rust, oil, painted appliance panels.',
  },
  {
    name: 'Heavy melting steel, No. 1',
    family: 'ferrous',
    quotedPer: 'gross ton',
    code: '',
    fallsBackTo: 'Heavy melting steel, No. 2',
    recognise: 'Plain steel of a quarter inch and thicker, in short pieces; a magnet holds hard.',
    spoiledBy: 'Thin sheet, zinc coating, pieces too long for the yard, cast iron, closed vessels.',
  },
  {
    name: 'Heavy melting steel, No. 2',
    family: 'ferrous',
    quotedPer: 'gross ton',
    code: 'FS 204',
    fallsBackTo: 'Shreddable steel',
    recognise: 'Steel of an eighth inch and thicker, painted or zinc-coated too. A magnet holds hard.',
    spoiledBy: 'Thin sheet, concrete, wood, closed vessels.',
  },
  {
    name: 'Cast iron',
    family: 'ferrous',
    quotedPer: 'gross ton',
    code: '',
    fallsBackTo: 'Heavy melting steel, No. 2',
    recognise:
      'Pans, stove parts, sash weights: thick and brittle, the break is grey and grainy. A magnet holds, and the file leaves dark dust.',
    spoiledBy: 'Steel bolted on, enamel, burnt grates. Washer weights of concrete are no iron.',
  },
  {
    name: 'Shreddable steel',
    family: 'ferrous',
    quotedPer: 'net ton',
    code: '',
    fallsBackTo: null,
    recognise: 'Thin steel: washer cabinets, casings, brackets, frames. A magnet holds at once.',
    spoiledBy: 'Concrete, wood, much plastic, closed vessels, oil, batteries.',
  },
  {
    name: 'Light iron from electronics',
    family: 'ferrous',
    quotedPer: 'net ton',
    code: 'EM4',
    fallsBackTo: 'Shreddable steel',
    recognise:
      'Empty computer and equipment cases of thin steel. A magnet holds; white and light without pull is aluminium.',
    spoiledBy: 'Circuit boards, wire, batteries, plastic fronts left on.',
  },
  {
    name: 'Whole appliances',
    family: 'ferrous',
    quotedPer: 'net ton',
    code: '',
    fallsBackTo: null,
    recognise:
      'Washers, dryers and stoves sold whole. Cold appliances only after a licensed technician recovered the ' +
      'refrigerant, with the paper that says so; local rules apply.',
    spoiledBy:
      'Refrigerant, food, missing motors or wire, mercury switches: those come out whole and go to collection.',
  },
  {
    name: 'Electric motors',
    family: 'motors and units',
    quotedPer: 'lb',
    code: 'Elmo',
    fallsBackTo: 'Motors, aluminium wound',
    recognise:
      'Whole motors with copper windings, as in washers. Windings may be aluminium: scratch each one; red is copper. ' +
      'A capacitor on it may be charged: leave that to a trained person.',
    spoiledBy: 'Aluminium windings, pulleys, mounts, pumps and gear housings left on, capacitors.',
  },
  {
    name: 'Small motors',
    family: 'motors and units',
    quotedPer: 'lb',
    code: 'Small Elmo',
    fallsBackTo: 'Motors, aluminium wound',
    recognise:
      'Fist-sized copper-wound motors from fans, tools and kitchen machines. Windings may be aluminium: scratch each one; red is copper.',
    spoiledBy: 'Plastic housings, fan blades, toy motors with hardly any copper.',
  },
  {
    name: 'Motors, aluminium wound',
    family: 'motors and units',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Shreddable steel',
    recognise: 'Look like copper, but a scratch through the enamel shows silver-white. Light for their size.',
    spoiledBy: 'Mounts, pulleys and pumps left on, capacitors.',
  },
  {
    name: 'Sealed units',
    family: 'motors and units',
    quotedPer: 'lb',
    code: 'Vader',
    fallsBackTo: 'Shreddable steel',
    recognise:
      'The closed steel pot of a fridge or air conditioner. Refrigerant is recovered by a licensed technician ' +
      'first; keep the paper. Local rules apply.',
    spoiledBy: 'No proof of recovery, oil running out, brackets and tubes left on. Never cut one open to look.',
  },
  {
    name: 'Transformers, copper wound',
    family: 'motors and units',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Shreddable steel',
    recognise:
      'Heavy iron core with windings. Windings may be aluminium: scratch each one; red is copper. ' +
      'In a microwave oven the capacitor stays dangerous when unplugged: leave its cover to a trained person.',
    spoiledBy: 'Aluminium windings, resin blocks, brackets, oil. Oil-filled ones need a licensed handler.',
  },
  {
    name: 'Lighting ballasts',
    family: 'motors and units',
    quotedPer: 'lb',
    code: 'Darth',
    fallsBackTo: null,
    recognise:
      'Heavy sealed boxes from tube lights, marked "No PCBs". Without that mark treat one as holding PCB: ' +
      'closed, bagged, to a collection point.',
    spoiledBy: 'No mark, leaks, electronic ballasts, tubes left in.',
  },
  {
    name: 'Circuit boards, main',
    family: 'electronics',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Circuit boards, low',
    recognise: 'Computer main boards with many sockets, slots and gold-coloured edges.',
    spoiledBy: 'Button cells, steel brackets, heat sinks, parts already picked off.',
  },
  {
    name: 'Circuit boards, low',
    family: 'electronics',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: null,
    recognise:
      'Boards from appliances, monitors and power supplies: big coils, brown board, few chips. ' +
      'Large capacitors may be charged: let them be.',
    spoiledBy: 'Heat sinks, transformers, steel frames, wire, batteries.',
  },
  {
    name: 'Computer power supplies',
    family: 'electronics',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Light iron from electronics',
    recognise: 'Whole steel boxes with the wire bundle on. Sold closed: capacitors inside may be charged.',
    spoiledBy: 'Wires cut off, opened cases.',
  },
  {
    name: 'Hard drives',
    family: 'electronics',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Cast aluminium',
    recognise: 'Whole drives with their board. Make what is stored on them unreadable first.',
    spoiledBy: 'Boards taken off, mounting frames of steel, empty shells.',
  },
  {
    name: 'Computers, whole',
    family: 'electronics',
    quotedPer: 'lb',
    code: '',
    fallsBackTo: 'Light iron from electronics',
    recognise: 'Desktop computers with board, drive and power supply inside.',
    spoiledBy: 'Parts missing, monitors, lithium batteries left in: tape their poles and take them to collection.',
  },
  {
    name: 'Sterling silver',
    family: 'precious',
    quotedPer: 'ozt',
    code: '',
    fallsBackTo: null,
    recognise: 'Marked 925 or sterling; not magnetic, and the metal below a small file mark is still white.',
    spoiledBy: 'Plated ware, steel blades, filled handles. Many places ask for identity papers and a holding time.',
  },
  {
    name: 'Silver contacts',
    family: 'precious',
    quotedPer: 'ozt',
    code: '',
    fallsBackTo: null,
    recognise: 'White buttons on copper or brass arms, out of large switches and relays.',
    spoiledBy: 'Long copper arms, iron springs, plated buttons. Do not grind or heat them: some hold cadmium.',
  },
];
