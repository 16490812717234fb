/** The symbols, by part kind: our own drawing of the forms of IEC 60617 (general knowledge of the trade; the standard itself is sold). Past 200 lines: one shelf. */
import type { Ratings } from '../engine/vehicle.ts'
import { box, circle, port, type Shape, type Sides, shape } from './shape.ts'

/** More ways than this stand closer together: the bar would not fit a sheet. */
const BAR_ROWS = 22

export type Asked = { readonly kind: string; readonly ratings: Ratings; readonly sides: Sides }

/** The symbol of a part; what has no symbol of its own is a box. */
export function symbolOf(asked: Asked): Shape {
  const { kind, ratings } = asked
  if (kind === 'load') return load(ratings.starter === true ? 'motor' : ratings.nature)
  return (byKind[kind] ?? (() => plainBox(asked.sides)))(asked)
}

const byKind: Readonly<Record<string, (asked: Asked) => Shape>> = {
  fuse: () => shape({ width: 40, height: 16, ports: ends('in', 'out', 8), lines: `${box(4, 2, 32, 12)}M0 8H40` }),
  breaker: () =>
    shape({ width: 40, height: 24, ports: ends('in', 'out', 18), lines: 'M0 18H9M9 18L31 5M31 18H40M27 14L35 22M35 14L27 22' }),
  diode: () => shape({ width: 36, height: 20, ports: ends('a', 'k', 10), lines: 'M0 10H11M11 2V18L25 10zM25 2V18M25 10H36' }),
  battery: () =>
    shape({
      width: 40,
      height: 54,
      ports: [port('+', 'right', 8, '+'), port('-', 'right', 46, '−')],
      lines: 'M40 8H18V20M6 20H30M11 25H25M6 30H30M11 35H25M18 35V46H40',
      filled: `${box(11, 24, 14, 3)}${box(11, 34, 14, 3)}`,
    }),
  alternator,
  charger: () => supply('left-none'),
  converter: () => supply('in'),
  pump: () =>
    shape({
      width: 52,
      height: 36,
      ports: ends('+', '-', 18, '+', '−'),
      lines: `${circle(26, 18, 16)}M0 18H10M42 18H52`,
      filled: 'M36 14L42 18L36 22z',
      letters: [{ x: 24, y: 22.5, text: 'M' }],
    }),
  relay,
  switch: switches,
  module: ({ sides }) => plainBox(sides, { width: 64, labelled: true }),
  connector,
  splice: ({ sides }) => dot(sides),
  block: ({ sides }) => bar(sides),
  'ground-point': ({ sides }) => dot(sides, true),
  chassis: ({ sides }) => dot(sides, true),
}

/** A load by its nature: lamp, motor, heater, coil, electronics; of nature unknown a box. */
function load(nature: unknown): Shape {
  const ports = ends('+', '-', 18, '+', '−')
  const round = `${circle(26, 18, 16)}M0 18H10M42 18H52`
  const boxed = `${box(9, 7, 34, 22)}M0 18H9M43 18H52`
  if (nature === 'lamp') return shape({ width: 52, height: 36, ports, lines: `${round}M14.7 6.7L37.3 29.3M37.3 6.7L14.7 29.3` })
  if (nature === 'motor') return shape({ width: 52, height: 36, ports, lines: round, letters: [{ x: 26, y: 22.5, text: 'M' }] })
  if (nature === 'resistive') return shape({ width: 52, height: 36, ports, lines: `${boxed}M17.5 7V29M26 7V29M34.5 7V29` })
  if (nature === 'inductive')
    return shape({ width: 52, height: 36, ports, lines: 'M0 18H8a4.5 6 0 0 1 9 0a4.5 6 0 0 1 9 0a4.5 6 0 0 1 9 0a4.5 6 0 0 1 9 0H52' })
  if (nature === 'electronic')
    return shape({ width: 52, height: 36, ports, lines: `${boxed}M14 18h7l3-6v12l3-6h4`, filled: 'M31 14L37 18L31 22z' })
  return shape({ width: 52, height: 36, ports, lines: boxed })
}

/** A generator of alternating current, rectified within: both posts on the right; where the regulator senses, on the left. */
function alternator({ sides }: Asked): Shape {
  const senses = [...sides.left, ...sides.right].includes('sense')
  return shape({
    width: 56,
    height: 54,
    ports: [port('+', 'right', 8, '+'), port('-', 'right', 46, '−'), ...(senses ? [port('sense', 'left', 27)] : [])],
    lines: `${circle(26, 27, 18)}M26 9V8H56M26 45V46H56${senses ? 'M0 27H8' : ''}M19 35q3.5-5 7 0t7 0`,
    letters: [{ x: 26, y: 28, text: 'G' }],
  })
}

/** Contacts above, coil below, the dashed line between them the armature. 30 and 86 on the left, as the feed comes. */
function relay({ sides }: Asked): Shape {
  const used = [...sides.left, ...sides.right]
  const isChangeover = used.includes('87a')
  const twoMakes = used.includes('87b')
  const y30 = isChangeover ? 21 : 16
  const make = `M0 ${y30}H16M16 ${y30}L42 ${isChangeover ? 12 : 7}M42 ${isChangeover ? 10 : y30}H60${isChangeover ? 'M42 10V13' : ''}`
  const rest = isChangeover ? 'M42 32H60M42 32V27' : ''
  const second = twoMakes ? `M10 ${y30}V${y30 + 26}H16L42 ${y30 + 17}M42 ${y30 + 26}H60` : ''
  const yCoil = (isChangeover ? 32 : y30) + (twoMakes ? 26 : 0) + 26
  return shape({
    width: 60,
    height: yCoil + 11,
    ports: [
      port('30', 'left', y30, '30'),
      port('87', 'right', isChangeover ? 10 : y30, '87'),
      ...(isChangeover ? [port('87a', 'right', 32, '87a')] : []),
      ...(twoMakes ? [port('87b', 'right', y30 + 26, '87b')] : []),
      port('86', 'left', yCoil, '86'),
      port('85', 'right', yCoil, '85'),
    ],
    lines: `${make}${rest}${second}${box(17, yCoil - 8, 26, 16)}M0 ${yCoil}H17M43 ${yCoil}H60`,
    dashed: `M29 ${isChangeover ? 17 : 12}V${yCoil - 8}`,
  })
}

/** One input, an output for each way; the bar and dashed line on top are the hand that works it. */
function switches({ sides }: Asked): Shape {
  const outs = [...new Set(['out', ...[...sides.left, ...sides.right].filter((name) => name !== 'in')])].sort(naturally)
  const y = (n: number) => 24 + n * 22
  const contacts = outs.map((_, n) => `${n === 0 ? '' : `M10 ${y(n - 1)}V${y(n)}H12`}M12 ${y(n)}L34 ${y(n) - 10}M34 ${y(n)}H48`).join('')
  return shape({
    width: 48,
    height: y(outs.length - 1) + 6,
    ports: [port('in', 'left', 24), ...outs.map((name, n) => port(name, 'right', y(n), outs.length > 1 ? name : ''))],
    lines: `M0 24H12${contacts}M17 4H29M17 4V8M29 4V8`,
    dashed: `M23 4V${y(outs.length - 1) - 5}`,
  })
}

/** A pin and its socket for each pole in use. */
function connector({ sides }: Asked): Shape {
  const poles = [...new Set([...sides.left, ...sides.right].map((name) => name.slice(0, -1)))].sort(naturally)
  const y = (n: number) => 10 + n * 22
  // Where the feed enters at b, that is the left side.
  const [near, far] = sides.left.filter((name) => name.endsWith('b')).length > sides.left.length / 2 ? ['b', 'a'] : ['a', 'b']
  return shape({
    width: 44,
    height: y(Math.max(0, poles.length - 1)) + 10,
    ports: poles.flatMap((pole, n) => [port(`${pole}${near}`, 'left', y(n), pole), port(`${pole}${far}`, 'right', y(n))]),
    lines: poles
      .map((_, n) => `M0 ${y(n)}H14M26 ${y(n) - 6}A6 6 0 0 0 26 ${y(n) + 6}M20 ${y(n)}H44`)
      .join('')
      .replaceAll('M20', 'M20.5'),
    filled: poles.map((_, n) => box(12, y(n) - 2, 10, 4)).join(''),
    dashed: poles.length > 1 ? `M17 ${y(0)}V${y(poles.length - 1)}` : '',
  })
}

/** A dot that all wires meet in; a stud is a ring round it. */
function dot(sides: Sides, isStud = false): Shape {
  return shape({
    width: 16,
    height: 16,
    ports: [...sides.left.map((name) => port(name, 'left', 8)), ...sides.right.map((name) => port(name, 'right', 8))],
    lines: `${isStud ? circle(8, 8, 6) : ''}${sides.left.length > 0 ? 'M0 8H8' : ''}${sides.right.length > 0 ? 'M8 8H16' : ''}`,
    filled: circle(8, 8, isStud ? 2.5 : 3.5),
  })
}

/** A bar that all ways leave from, each at its own height. */
function bar(sides: Sides): Shape {
  const rows = Math.max(sides.left.length, sides.right.length, 1)
  const pitch = rows > BAR_ROWS ? 16 : 24
  const y = (n: number) => 16 + n * pitch
  const height = 32 + (rows - 1) * pitch
  const way = (name: string) => name.split('~')[0] as string
  return shape({
    width: 92,
    height,
    ports: [
      ...sides.left.map((name, n) => port(name, 'left', y(n), way(name))),
      ...sides.right.map((name, n) => port(name, 'right', y(n), way(name))),
    ],
    lines: [...sides.left.map((_, n) => `M0 ${y(n)}H43`), ...sides.right.map((_, n) => `M49 ${y(n)}H92`)].join(''),
    filled: box(43, 2, 6, height - 4),
  })
}

/** A converter or charger: a box cut by a diagonal, direct voltage on the side that it gives. */
function supply(entry: 'in' | 'left-none'): Shape {
  const hasInput = entry === 'in'
  return shape({
    width: 60,
    height: 50,
    ports: [...(hasInput ? [port('in', 'left', 13, 'in')] : []), port('out', 'right', 13, 'out'), port('-', 'right', 37, '−')],
    lines: `${box(12, 3, 36, 44)}M12 47L48 3${hasInput ? 'M0 13H12M17 13h9M17 17h9' : 'M17 14q3-5 5 0t5 0'}M48 13H60M48 37H60M33 36h9M33 40h9`,
  })
}

/** A plain box with its terminals' names inside. */
function plainBox(sides: Sides, given: { readonly width?: number; readonly labelled?: boolean } = {}): Shape {
  const width = given.width ?? 64
  const rows = Math.max(sides.left.length, sides.right.length, 1)
  const y = (n: number) => 16 + n * 22
  return shape({
    width,
    height: 32 + (rows - 1) * 22,
    ports: [
      ...sides.left.map((name, n) => port(name, 'left', y(n), name)),
      ...sides.right.map((name, n) => port(name, 'right', y(n), name)),
    ],
    lines: `${box(10, 2, width - 20, 28 + (rows - 1) * 22)}${sides.left.map((_, n) => `M0 ${y(n)}H10`).join('')}${sides.right.map((_, n) => `M${width - 10} ${y(n)}H${width}`).join('')}`,
  })
}

/** The ground symbol at the end of a return: a frame for the body, an earth for a stud on it. */
export function groundSymbol(isChassis: boolean): Shape {
  return shape({
    width: 24,
    height: 30,
    ports: [port('1', 'left', 9)],
    lines: isChassis ? 'M0 9H12V19M2 19H22M5 19L1 26M12 19L8 26M19 19L15 26' : 'M0 9H12V18M3 18H21M6.5 22H17.5M9.5 26H14.5',
  })
}

export function jointSymbol(sides: Sides): Shape {
  return dot(sides)
}

/** The end of a wire that is joined to nothing. */
export function openSymbol(side: 'left' | 'right'): Shape {
  return shape({
    width: 16,
    height: 16,
    ports: [port('1', side, 8)],
    lines: `${circle(8, 8, 4)}${side === 'left' ? 'M0 8H4' : 'M12 8H16'}`,
  })
}

/** Terminal names in the order a person counts them: 2 before 10. */
export function naturally(one: string, other: string): number {
  return one.localeCompare(other, 'en', { numeric: true })
}

function ends(left: string, right: string, y: number, leftLabel = '', rightLabel = '') {
  return [port(left, 'left', y, leftLabel), port(right, 'right', y, rightLabel)]
}
