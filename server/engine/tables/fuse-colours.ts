/**
 * Colours of fuse bodies by form and rated current. A hint only: the number printed on the fuse decides. Forms that are not listed
 * (strips, bolts, glass, links, class T) carry a number and no colour to rely on.
 */

export type FuseColour = { readonly colour: string; readonly source: string; readonly grade: 'read' | 'memory' }

/** ISO 8820-3 types C and F by a trade table compiled with a fuse maker (read; the words "light" and "natural" are memory). */
const BLADE: Readonly<Record<number, string>> = {
  0.5: 'dark blue',
  1: 'black',
  2: 'grey',
  3: 'violet',
  4: 'pink',
  5: 'tan',
  7.5: 'brown',
  10: 'red',
  15: 'light blue',
  20: 'yellow',
  25: 'clear',
  30: 'green',
}

/** ISO 8820-3, upper end of type C (memory; 35 A is also seen in other colours). */
const BLADE_UPPER: Readonly<Record<number, string>> = { 35: 'blue-green', 40: 'orange' }

/** ISO 8820-3 type E (memory; 25 and 35 A have no agreed colour). */
const LARGE_BLADE: Readonly<Record<number, string>> = {
  20: 'yellow',
  30: 'green',
  40: 'orange',
  50: 'red',
  60: 'blue',
  70: 'brown',
  80: 'clear',
  100: 'violet',
}

/** ISO 8820-4 type A1, cartridge (memory). */
const CARTRIDGE: Readonly<Record<number, string>> = { 20: 'light blue', 25: 'white', 30: 'pink', 40: 'green', 50: 'red', 60: 'yellow' }

const CODES: Readonly<Record<string, readonly (readonly [Readonly<Record<number, string>>, Omit<FuseColour, 'colour'>])[]>> = {
  C: [
    [BLADE, { source: 'ISO 8820-3, types C and F', grade: 'read' }],
    [BLADE_UPPER, { source: 'ISO 8820-3, type C', grade: 'memory' }],
  ],
  F: [[BLADE, { source: 'ISO 8820-3, types C and F', grade: 'read' }]],
  E: [[LARGE_BLADE, { source: 'ISO 8820-3, type E', grade: 'memory' }]],
  A1: [[CARTRIDGE, { source: 'ISO 8820-4, type A1', grade: 'memory' }]],
}

/** The colour published for that form (as `form` names it) and rated current in A; null where there is none. */
export function fuseColour(form: string, rated_A: number): FuseColour | null {
  for (const [colours, said] of Object.hasOwn(CODES, form) ? (CODES[form] ?? []) : []) {
    const colour = colours[rated_A]
    if (colour !== undefined) return { colour, ...said }
  }
  return null
}
