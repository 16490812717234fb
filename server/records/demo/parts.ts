/** Parts of the demonstration vehicles: invented, with ratings of the standards' types. */
import type { Grade } from '../engine-types.ts'
import type { NewPart } from '../parts.ts'
import type { PartList } from './wiring.ts'

function marked(kind: string, name: string, ratings: NewPart['ratings'], grade: Grade = 'marked'): NewPart {
  return { kind, name, ratings, evidence: Object.fromEntries(Object.keys(ratings).map((rating) => [rating, grade])) }
}

function wirePart(crossSection_mm2: number): NewPart {
  return marked('conductor', `${crossSection_mm2} mm² copper, 105 °C`, {
    material: 'copper',
    crossSection_mm2,
    insulation_degC: 105,
    insulation: 'XLPE',
  })
}

function blade(rated_A: number): NewPart {
  return marked('fuse', `${rated_A} A blade fuse, type C`, { rated_A, rated_V: 32, form: 'C', breaking_A: 1000 })
}

function lamp(name: string, current_A: number): NewPart {
  return marked('load', name, { behaviour: 'current', rated_V: 13.5, current_A, nature: 'lamp' }, 'measured')
}

/** `inrush_A` for `inrush_s` as a clamp meter that holds its peak shows it. */
function motor(name: string, current_A: number, inrush_A: number, inrush_s: number): NewPart {
  return marked('load', name, { behaviour: 'current', rated_V: 13.5, current_A, nature: 'motor', inrush_A, inrush_s }, 'measured')
}

function box(name: string, power_W: number, rated_V = 13.5): NewPart {
  const inrush_A = Math.ceil((3 * power_W) / rated_V)
  return marked('load', name, { behaviour: 'power', rated_V, power_W, nature: 'electronic', inrush_A, inrush_s: 0.002 }, 'datasheet')
}

export const demoParts: PartList = {
  'wire-1': wirePart(1),
  'wire-1.5': wirePart(1.5),
  'wire-2.5': wirePart(2.5),
  'wire-4': wirePart(4),
  'wire-6': wirePart(6),
  'wire-10': wirePart(10),
  'wire-25': wirePart(25),
  'wire-50': wirePart(50),
  'fuse-5': blade(5),
  'fuse-10': blade(10),
  'fuse-15': blade(15),
  'fuse-20': blade(20),
  'fuse-25': blade(25),
  'fuse-30': blade(30),
  'strip-30': marked('fuse', '30 A strip fuse, SF 30', { rated_A: 30, rated_V: 32, form: 'SF30', breaking_A: 6000 }),
  'fuse-40': marked('fuse', '40 A strip fuse, SF 30', { rated_A: 40, rated_V: 32, form: 'SF30', breaking_A: 6000 }),
  'fuse-100': marked('fuse', '100 A strip fuse, SF 30', { rated_A: 100, rated_V: 32, form: 'SF30', breaking_A: 6000 }),
  'fuse-200': marked('fuse', '200 A strip fuse, SF 51', { rated_A: 200, rated_V: 32, form: 'SF51', breaking_A: 6000 }),
  'relay-40': marked(
    'relay',
    '40 A make relay, mini',
    {
      make_A: 40,
      inrush_A: 120,
      rated_V: 16,
      coil_ohm: 90,
      pickUp20_V: 7.2,
      contactResistance_ohm: 0.002,
      suppression: 'resistor',
      ingress: 'IP54',
    },
    'datasheet',
  ),
  'relay-20': marked('relay', '20 A make relay, micro', {
    make_A: 20,
    inrush_A: 100,
    rated_V: 16,
    coil_ohm: 100,
    pickUp20_V: 7.2,
    contactResistance_ohm: 0.003,
    suppression: 'resistor',
    ingress: 'IP54',
  }),
  'relay-70': marked(
    'relay',
    '70 A make relay',
    {
      make_A: 70,
      makeByAmbient: [
        { ambient_degC: 23, current_A: 70 },
        { ambient_degC: 85, current_A: 50 },
        { ambient_degC: 125, current_A: 30 },
      ],
      inrush_A: 240,
      rated_V: 16,
      coil_ohm: 90,
      pickUp20_V: 7.2,
      contactResistance_ohm: 0.001,
      suppression: 'resistor',
      ingress: 'IP54',
    },
    'datasheet',
  ),
  contactor: marked(
    'relay',
    '150 A continuous-duty contactor',
    {
      make_A: 150,
      inrush_A: 600,
      rated_V: 16,
      coil_ohm: 14,
      pickUp20_V: 8,
      contactResistance_ohm: 0.0005,
      duty: 'continuous',
      suppression: 'zener',
      ingress: 'IP65',
    },
    'datasheet',
  ),
  'dash-switch': marked('switch', '16 A rocker switch', { rated_A: 16, rated_V: 32, contactResistance_ohm: 0.005 }),
  'battery-start': marked('battery', '12 V 80 Ah starter battery', {
    nominal_V: 12,
    openCircuit_V: 12.6,
    internalResistance_ohm: 0.0075,
    capacity_Ah: 80,
    chemistry: 'flooded',
    coldCranking_A: 700,
    coldCrankingTest: 'EN',
  }),
  'battery-house': marked('battery', '12 V 100 Ah house battery', {
    nominal_V: 12,
    openCircuit_V: 12.6,
    internalResistance_ohm: 0.009,
    capacity_Ah: 100,
    chemistry: 'AGM',
  }),
  alternator: marked('alternator', '12 V 160 A alternator', { setPoint_V: 14.2, output_A: 140, idleOutput_A: 65 }),
  'alternator-small': marked('alternator', '12 V 55 A alternator', { setPoint_V: 14.2, output_A: 50, idleOutput_A: 22 }),
  block: marked('block', '14-way stud block', { ways: 14, total_A: 250, way_A: 200 }),
  splice: marked('splice', 'Crimped splice', { rated_A: 30 }, 'typical'),
  ground: marked('ground-point', 'M8 ground stud', { rated_A: 200 }, 'typical'),
  chassis: marked('chassis', 'Frame', {}),
  starter: marked(
    'load',
    '12 V starter motor',
    { behaviour: 'current', rated_V: 12, current_A: 220, nature: 'motor', starter: true },
    'measured',
  ),
  dip: lamp('Dipped-beam lamp', 4.4),
  main: lamp('Main-beam lamp', 4.6),
  side: lamp('Side and tail lamps', 2.2),
  work: marked(
    'load',
    'Work lamp',
    { behaviour: 'current', rated_V: 13.5, current_A: 6, nature: 'lamp', inrush_A: 38, inrush_s: 0.06 },
    'measured',
  ),
  bar: box('Light bar, 170 W', 170),
  cab: box('Cab lamp', 8),
  fridge: marked(
    'load',
    'Compressor fridge',
    { behaviour: 'power', rated_V: 13.5, power_W: 60, nature: 'electronic', inrush_A: 14, inrush_s: 0.002, minimum_V: 10.4 },
    'datasheet',
  ),
  radio: box('Radio', 45),
  usb: box('Charging sockets', 60),
  horn: motor('Horn pair', 8, 16, 0.05),
  wiper: motor('Wiper motor', 5, 20, 0.2),
  blower: motor('Heater blower', 12, 40, 0.3),
  compressor: motor('Tyre compressor', 22, 80, 0.4),
  'fuel-pump': {
    kind: 'pump',
    name: 'In-line fuel pump',
    ratings: {
      behaviour: 'current',
      rated_V: 13.5,
      current_A: 6,
      nature: 'motor',
      inrush_A: 18,
      inrush_s: 0.1,
      minimum_V: 10,
      essential: true,
    },
    evidence: {
      behaviour: 'datasheet',
      rated_V: 'datasheet',
      current_A: 'measured',
      nature: 'datasheet',
      inrush_A: 'measured',
      inrush_s: 'measured',
      minimum_V: 'datasheet',
    },
  },
  heater: {
    kind: 'load',
    name: 'Diesel heater',
    ratings: { behaviour: 'current', current_A: 8, rated_V: 12, nature: 'motor', inrush_A: 12, inrush_s: 90 },
    evidence: { rated_V: 'marked', inrush_A: 'measured', inrush_s: 'measured' },
  },
  fan: motor('Radiator fan, 400 mm', 18, 60, 0.3),
  'carburettor-pump': motor('Carburettor fuel pump', 2, 6, 0.1),
  'rest-unknown': { kind: 'load', name: 'Not traced yet', ratings: { rated_V: 12 }, evidence: {} },
  'battery-24': marked('battery', '24 V bank, 140 Ah', {
    nominal_V: 24,
    openCircuit_V: 25.2,
    internalResistance_ohm: 0.014,
    capacity_Ah: 140,
  }),
  'alternator-24': marked('alternator', '24 V 80 A alternator', { setPoint_V: 28.2, output_A: 72, idleOutput_A: 35 }),
  'relay-24': marked(
    'relay',
    '24 V 40 A make relay',
    { make_A: 40, inrush_A: 120, rated_V: 32, coil_ohm: 300, pickUp20_V: 15, contactResistance_ohm: 0.002, suppression: 'resistor' },
    'datasheet',
  ),
  beacon: box('24 V beacon', 40, 27),
  'work-24': box('24 V work lamp', 70, 27),
  'marker-24': marked('load', '24 V marker lamps', { behaviour: 'current', rated_V: 27, current_A: 2, nature: 'lamp' }, 'measured'),
  'winch-24': marked(
    'load',
    '24 V hydraulic pack',
    { behaviour: 'current', rated_V: 24, current_A: 120, nature: 'motor', inrush_A: 400, inrush_s: 0.3, duty: 'intermittent' },
    'datasheet',
  ),
  'contactor-24': marked(
    'relay',
    '24 V 200 A contactor',
    {
      make_A: 200,
      inrush_A: 800,
      rated_V: 32,
      coil_ohm: 50,
      pickUp20_V: 16,
      contactResistance_ohm: 0.0004,
      duty: 'continuous',
      suppression: 'zener',
    },
    'datasheet',
  ),
}
