/** Short ways to say how a demonstration vehicle is wired, so that its data read as the wiring does. */
import type { Change } from '../contract.ts'
import type { Component } from '../engine-types.ts'
import type { NewPart } from '../parts.ts'

/** Parts by a short name; changes name them by it until they are put on the shelf. */
export type PartList = Readonly<Record<string, NewPart>>

const WIRE_BY_FUSE: Readonly<Record<number, string>> = {
  5: 'wire-1',
  10: 'wire-1.5',
  15: 'wire-2.5',
  20: 'wire-4',
  25: 'wire-4',
  30: 'wire-6',
  40: 'wire-10',
}

const receptacle = { terminal: '6.3 mm receptacle', tool: 'F-crimp pliers' }

export function fit(key: string, name: string, part: string, more: Partial<Component> = {}): Change {
  return { kind: 'fitted', component: { key, name, part, ...more } }
}

export function tie(from: string, to: string): Change {
  return { kind: 'joined', from, to }
}

/** A wire between two terminals. */
export function wire(given: {
  key: string
  name: string
  part: string
  length_m: number
  from: string
  to: string
  zone: string
  /** wire number, colours and fittings, where the builder kept to his own scheme */
  marks?: Pick<Component, 'number' | 'colour' | 'stripe' | 'fittings'>
}): readonly Change[] {
  return [
    fit(given.key, given.name, given.part, { length_m: given.length_m, zone: given.zone, ...given.marks }),
    tie(given.from, `${given.key}:a`),
    tie(`${given.key}:b`, given.to),
  ]
}

/** A fused circuit: block way → fuse → wire → (relay → wire) → load → wire → ground. */
export function circuit(given: {
  key: string
  name: string
  from: string
  fuse_A: number
  /** where it is not the least wire for that fuse */
  wirePart?: string
  fuseName: string
  load: string
  length_m: number
  zone: string
  loadZone: string
  ground: string
  relay?: { key: string; name: string; part: string; control: string; ground: string }
}): readonly Change[] {
  const part = given.wirePart ?? (WIRE_BY_FUSE[given.fuse_A] as string)
  const fuse = `fuse-${given.key}`
  const feed = given.relay ? `${given.relay.key}:87` : `${fuse}:out`
  return [
    fit(fuse, given.fuseName, `fuse-${given.fuse_A}`, { zone: given.zone, position: given.fuseName }),
    tie(given.from, `${fuse}:in`),
    ...(given.relay
      ? relayAhead({
          ...given.relay,
          from: `${fuse}:out`,
          part: given.relay.part,
          wirePart: part,
          zone: given.zone,
          number: given.fuseName,
        })
      : []),
    fit(given.key, given.name, given.load, { zone: given.loadZone }),
    ...wire({
      key: `feed-${given.key}`,
      name: `${given.name} feed`,
      part,
      length_m: given.length_m,
      from: feed,
      to: `${given.key}:+`,
      zone: given.loadZone,
      marks: { number: `${given.fuseName}-2`, colour: 'RD', stripe: 'WH', fittings: { a: receptacle, b: receptacle } },
    }),
    ...wire({
      key: `back-${given.key}`,
      name: `${given.name} return`,
      part,
      length_m: 0.6,
      from: `${given.key}:-`,
      to: given.ground,
      zone: given.loadZone,
      marks: { number: `${given.fuseName}-3`, colour: 'BN', fittings: { a: receptacle } },
    }),
  ]
}

/** A second load on the same relay or fuse. */
export function alsoFed(given: {
  key: string
  name: string
  load: string
  from: string
  part: string
  length_m: number
  zone: string
  ground: string
}): readonly Change[] {
  return [
    fit(given.key, given.name, given.load, { zone: given.zone }),
    ...wire({
      key: `feed-${given.key}`,
      name: `${given.name} feed`,
      part: given.part,
      length_m: given.length_m,
      from: given.from,
      to: `${given.key}:+`,
      zone: given.zone,
      marks: { colour: 'RD', stripe: 'GN' },
    }),
    ...wire({
      key: `back-${given.key}`,
      name: `${given.name} return`,
      part: given.part,
      length_m: 0.6,
      from: `${given.key}:-`,
      to: given.ground,
      zone: given.zone,
      marks: { colour: 'BN' },
    }),
  ]
}

function relayAhead(given: {
  key: string
  name: string
  part: string
  control: string
  ground: string
  from: string
  wirePart: string
  zone: string
  number: string
}): readonly Change[] {
  return [
    fit(given.key, given.name, given.part, { zone: given.zone }),
    ...wire({
      key: `to-${given.key}`,
      name: `${given.name} feed`,
      part: given.wirePart,
      length_m: 0.3,
      from: given.from,
      to: `${given.key}:30`,
      zone: given.zone,
      marks: { number: `${given.number}-1`, colour: 'RD', fittings: { b: receptacle } },
    }),
    fit(`switch-${given.key}`, `${given.name} switch`, 'dash-switch', { zone: 'cabin' }),
    ...wire({
      key: `supply-${given.key}`,
      name: `${given.name} switch supply`,
      part: 'wire-1',
      length_m: 0.4,
      from: given.control,
      to: `switch-${given.key}:in`,
      zone: 'cabin',
      marks: { number: `${given.number}-5`, colour: 'YE' },
    }),
    ...wire({
      key: `coil-${given.key}`,
      name: `${given.name} coil wire`,
      part: 'wire-1',
      length_m: 2,
      from: `switch-${given.key}:out`,
      to: `${given.key}:86`,
      zone: 'cabin',
      marks: { number: `${given.number}-6`, colour: 'YE', stripe: 'BK', fittings: { b: receptacle } },
    }),
    ...wire({
      key: `coil-back-${given.key}`,
      name: `${given.name} coil return`,
      part: 'wire-1',
      length_m: 0.4,
      from: `${given.key}:85`,
      to: given.ground,
      zone: given.zone,
      marks: { number: `${given.number}-7`, colour: 'BN', fittings: { a: receptacle } },
    }),
  ]
}
