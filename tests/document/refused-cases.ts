/** Documents that are refused, each with every path that must be named. Long because it is one table. */
import { readFileSync } from 'node:fs'

export const good = () => JSON.parse(readFileSync(`${import.meta.dirname}/../networks/small.json`, 'utf8'))
export type Doc = ReturnType<typeof good>
const kindAt = (doc: Doc, kind: string) => doc.parts.findIndex((part: { kind: string }) => part.kind === kind)
const fuse = (doc: Doc) => kindAt(doc, 'fuse')

const wire = (doc: Doc) => kindAt(doc, 'conductor')

/** As JSON text has it: an own field, not the prototype. */
const withProto = (value: unknown) => JSON.parse(`{"__proto__":${JSON.stringify(value)}}`)

/** A pump and a hose, so that there is fluid. */
const plumb = (doc: Doc) => {
  doc.parts.push({ key: 'pump-1', kind: 'pump', name: 'Pump', ratings: {} }, { key: 'hose-1', kind: 'hose', name: 'Hose', ratings: {} })
  doc.components.push({ key: 'lift', name: 'Lift pump', part: 'pump-1' }, { key: 'line', name: 'Line', part: 'hose-1' })
}

// What is wrong, and the paths that must be named: all of them, and no others.
export const cases: [string, (doc: Doc) => void, (doc: Doc) => string[]][] = [
  [
    'another format',
    (doc) => {
      doc.format = 'loombook-vehicle/2'
    },
    () => ['format'],
  ],
  [
    'no format',
    (doc) => {
      delete doc.format
    },
    () => ['format'],
  ],
  [
    'no vehicle',
    (doc) => {
      delete doc.vehicle
    },
    () => ['vehicle'],
  ],
  [
    'no name',
    (doc) => {
      delete doc.vehicle.name
    },
    () => ['vehicle.name'],
  ],
  [
    'a voltage of 400',
    (doc) => {
      doc.vehicle.systemVoltage_V = 400
    },
    () => ['vehicle.systemVoltage_V'],
  ],
  [
    'a voltage in words',
    (doc) => {
      doc.vehicle.systemVoltage_V = '12'
    },
    () => ['vehicle.systemVoltage_V'],
  ],
  [
    'an unknown field of the document',
    (doc) => {
      doc.extra = 1
    },
    () => ['extra'],
  ],
  [
    'an unknown field of the vehicle',
    (doc) => {
      doc.vehicle.colour = 'red'
    },
    () => ['vehicle.colour'],
  ],
  [
    'no parts',
    (doc) => {
      delete doc.parts
    },
    (doc) => ['parts', ...doc.components.map((_: unknown, n: number) => `components[${n}].part`)],
  ],
  [
    'an unknown kind',
    (doc) => {
      doc.parts[0].kind = 'dynamo'
    },
    () => ['parts[0].kind'],
  ],
  [
    'a key with a capital',
    (doc) => {
      doc.zones[0].key = 'Z'
    },
    (doc) => ['zones[0].key', ...doc.components.map((_: unknown, n: number) => `components[${n}].zone`)],
  ],
  [
    'a rating that is not of the kind',
    (doc) => {
      doc.parts[fuse(doc)].ratings.coil_ohm = 90
    },
    (doc) => [`parts[${fuse(doc)}].ratings.coil_ohm`],
  ],
  [
    'a rating of zero',
    (doc) => {
      doc.parts[fuse(doc)].ratings.rated_A = 0
    },
    (doc) => [`parts[${fuse(doc)}].ratings.rated_A`],
  ],
  [
    'a rating below zero',
    (doc) => {
      doc.parts[fuse(doc)].ratings.rated_V = -1
    },
    (doc) => [`parts[${fuse(doc)}].ratings.rated_V`],
  ],
  [
    'a rating in words',
    (doc) => {
      doc.parts[fuse(doc)].ratings.rated_A = '30 A'
    },
    (doc) => [`parts[${fuse(doc)}].ratings.rated_A`],
  ],
  [
    'a rating that is not a number',
    (doc) => {
      doc.parts[fuse(doc)].ratings.rated_A = Number.NaN
    },
    (doc) => [`parts[${fuse(doc)}].ratings.rated_A`],
  ],
  [
    'an infinite rating',
    (doc) => {
      doc.parts[fuse(doc)].ratings.rated_A = Number.POSITIVE_INFINITY
    },
    (doc) => [`parts[${fuse(doc)}].ratings.rated_A`],
  ],
  [
    'a form that is none',
    (doc) => {
      doc.parts[fuse(doc)].ratings.form = 'Z'
    },
    (doc) => [`parts[${fuse(doc)}].ratings.form`],
  ],
  [
    'evidence of no grade',
    (doc) => {
      doc.parts[fuse(doc)].evidence = { rated_A: 'hearsay' }
    },
    (doc) => [`parts[${fuse(doc)}].evidence.rated_A`],
  ],
  [
    'evidence for a rating that is not there',
    (doc) => {
      doc.parts[fuse(doc)].evidence = { breaking_A: 'marked' }
    },
    (doc) => [`parts[${fuse(doc)}].evidence.breaking_A`],
  ],
  [
    'a part key twice',
    (doc) => {
      doc.parts.push(doc.parts[0])
    },
    (doc) => [`parts[${doc.parts.length - 1}].key`],
  ],
  [
    'a component key twice',
    (doc) => {
      doc.components.push(doc.components[0])
    },
    (doc) => [`components[${doc.components.length - 1}].key`],
  ],
  [
    'a part that is not there',
    (doc) => {
      doc.components[3].part = 'nothing'
    },
    () => ['components[3].part'],
  ],
  [
    'a zone that is not there',
    (doc) => {
      doc.components[3].zone = 'moon'
    },
    () => ['components[3].zone'],
  ],
  [
    'a length below zero',
    (doc) => {
      doc.components[4].length_m = -1
    },
    () => ['components[4].length_m'],
  ],
  [
    'half a conductor in parallel',
    (doc) => {
      doc.components[4].parallel = 1.5
    },
    () => ['components[4].parallel'],
  ],
  [
    'an unknown field of a component',
    (doc) => {
      doc.components[4].lenght_m = 1
    },
    () => ['components[4].lenght_m'],
  ],
  [
    'a join to a component that is not there',
    (doc) => {
      doc.joins[0].to = 'ghost:a'
    },
    () => ['joins[0].to'],
  ],
  [
    'a join to a terminal that is not there',
    (doc) => {
      doc.joins[0].to = 'feed0:c'
    },
    () => ['joins[0].to'],
  ],
  [
    'a join onto itself',
    (doc) => {
      doc.joins[0].to = doc.joins[0].from
    },
    () => ['joins[0].to'],
  ],
  [
    'a join without a terminal',
    (doc) => {
      doc.joins[0].from = 'bat'
    },
    () => ['joins[0].from'],
  ],
  [
    'a joint below zero ohms',
    (doc) => {
      doc.joins[0].resistance_ohm = -0.1
    },
    () => ['joins[0].resistance_ohm'],
  ],
  [
    'a condition with no such engine state',
    (doc) => {
      doc.conditions[0].engine = 'warm'
    },
    () => ['conditions[0].engine'],
  ],
  [
    'a condition with a load that is not there',
    (doc) => {
      doc.conditions[0].on = ['nothing']
    },
    () => ['conditions[0].on[0]'],
  ],
  [
    'a fuse called a load',
    (doc) => {
      doc.conditions[0].on = ['main']
    },
    () => ['conditions[0].on[0]'],
  ],
  [
    'a wire called open',
    (doc) => {
      doc.conditions[0].open = ['feed0']
    },
    () => ['conditions[0].open[0]'],
  ],
  [
    'a day that is none',
    (doc) => {
      doc.asOf = '2026-02-30'
    },
    () => ['asOf'],
  ],
  [
    'two faults of different sorts',
    (doc) => {
      doc.vehicle.systemVoltage_V = 0
      doc.joins[1].to = 'ghost:in'
    },
    () => ['joins[1].to', 'vehicle.systemVoltage_V'],
  ],
  [
    'a name left empty',
    (doc) => {
      doc.vehicle.name = ''
    },
    () => ['vehicle.name'],
  ],
  [
    'a list that is none',
    (doc) => {
      doc.joins = {}
    },
    () => ['joins'],
  ],
  [
    'a component that is null',
    (doc) => {
      doc.components.push(null)
    },
    (doc) => [`components[${doc.components.length - 1}]`],
  ],
  [
    'a part without a kind',
    (doc) => {
      delete doc.parts[0].kind
    },
    () => ['parts[0].kind'],
  ],
  [
    'an unknown kind, and what else is wrong with that part',
    (doc) => {
      doc.parts[0].kind = 'dynamo'
      doc.parts[0].name = 7
      doc.parts[0].maker = 'x'
    },
    () => ['parts[0].kind', 'parts[0].name', 'parts[0].maker'],
  ],
  [
    'a kind by the name of a prototype',
    (doc) => {
      doc.parts[0].kind = '__proto__'
    },
    () => ['parts[0].kind'],
  ],
  [
    'a prototype for the vehicle',
    (doc) => {
      Object.defineProperty(doc.vehicle, '__proto__', { value: {}, enumerable: true })
    },
    () => ['vehicle.__proto__'],
  ],
  [
    'a prototype among the ratings',
    (doc) => {
      doc.parts[fuse(doc)].ratings = withProto(1)
    },
    (doc) => [`parts[${fuse(doc)}].ratings.__proto__`],
  ],
  [
    'evidence for a prototype',
    (doc) => {
      doc.parts[0].evidence = withProto('marked')
    },
    () => ['parts[0].evidence.__proto__'],
  ],
  [
    'evidence for what every object inherits',
    (doc) => {
      doc.parts[0].evidence = { constructor: 'marked' }
    },
    () => ['parts[0].evidence.constructor'],
  ],
  [
    'evidence for a zone figure that is not there',
    (doc) => {
      doc.zones[0].evidence = { peak_degC: 'measured' }
    },
    () => ['zones[0].evidence.peak_degC'],
  ],
  [
    'a field whose name holds a dot',
    (doc) => {
      doc.vehicle['a.b'] = 1
    },
    () => ['vehicle["a.b"]'],
  ],
  [
    'a conductor with both a cross-section and a size',
    (doc) => {
      doc.parts[wire(doc)].ratings = { crossSection_mm2: 6, size: { system: 'AWG', name: '10' } }
    },
    (doc) => [`parts[${wire(doc)}].ratings.size`],
  ],
  [
    'a size of no system',
    (doc) => {
      doc.parts[wire(doc)].ratings = { size: { system: 'BWG', name: '10' } }
    },
    (doc) => [`parts[${wire(doc)}].ratings.size.system`],
  ],
  [
    'a size the system has not',
    (doc) => {
      doc.parts[wire(doc)].ratings = { size: { system: 'SAE', name: '11' } }
    },
    (doc) => [`parts[${wire(doc)}].ratings.size.name`],
  ],
  [
    'a size by the name of what every object inherits',
    (doc) => {
      doc.parts[wire(doc)].ratings = { size: { system: 'SAE', name: 'toString' } }
    },
    (doc) => [`parts[${wire(doc)}].ratings.size.name`],
  ],
  [
    'a size in hexadecimal',
    (doc) => {
      doc.parts[wire(doc)].ratings = { size: { system: 'mm2', name: '0x10' } }
    },
    (doc) => [`parts[${wire(doc)}].ratings.size.name`],
  ],
  [
    'a size as a bare word',
    (doc) => {
      doc.parts[wire(doc)].ratings = { size: '10 AWG' }
    },
    (doc) => [`parts[${wire(doc)}].ratings.size`],
  ],
  [
    'a material that is none',
    (doc) => {
      doc.parts[wire(doc)].ratings.material = 'gold'
    },
    (doc) => [`parts[${wire(doc)}].ratings.material`],
  ],
  [
    'a conductor colder than any',
    (doc) => {
      doc.parts[wire(doc)].ratings.insulation_degC = -300
    },
    (doc) => [`parts[${wire(doc)}].ratings.insulation_degC`],
  ],
  [
    'an ingress code that is none',
    (doc) => {
      doc.zones[0].ingress = 'waterproof'
    },
    () => ['zones[0].ingress'],
  ],
  [
    'a zone hotter than any',
    (doc) => {
      doc.zones[0].ambient_degC = 5000
    },
    () => ['zones[0].ambient_degC'],
  ],
  [
    'an unknown field of a join',
    (doc) => {
      doc.joins[0].via = 'x'
    },
    () => ['joins[0].via'],
  ],
  [
    'an unknown field of a condition',
    (doc) => {
      doc.conditions[0].speed = 1
    },
    () => ['conditions[0].speed'],
  ],
  [
    'a charge below zero',
    (doc) => {
      doc.conditions[0].charge_A = -1
    },
    () => ['conditions[0].charge_A'],
  ],
  [
    'a condition key twice',
    (doc) => {
      doc.conditions[1].key = doc.conditions[0].key
    },
    () => ['conditions[1].key'],
  ],
  [
    'a zone key twice',
    (doc) => {
      doc.zones.push(doc.zones[0])
    },
    () => ['zones[1].key'],
  ],
  [
    'no conductors in parallel',
    (doc) => {
      doc.components[4].parallel = 0
    },
    () => ['components[4].parallel'],
  ],
  [
    'a fitting at a terminal that is not there',
    (doc) => {
      doc.components[4].fittings = { c: { tool: 'crimper' } }
    },
    () => ['components[4].fittings.c'],
  ],
  [
    'a colour by its whole word',
    (doc) => {
      doc.components[4].colour = 'red'
    },
    () => ['components[4].colour'],
  ],
  [
    'fluid joined to current',
    (doc) => {
      plumb(doc)
      doc.joins.push({ from: 'lift:outlet', to: 'bat:+' })
    },
    (doc) => [`joins[${doc.joins.length - 1}]`],
  ],
  [
    'a hose end joined to a post of its pump',
    (doc) => {
      plumb(doc)
      doc.joins.push({ from: 'line:a', to: 'lift:-' })
    },
    (doc) => [`joins[${doc.joins.length - 1}]`],
  ],
  [
    'a row of delivery below zero',
    (doc) => {
      plumb(doc)
      doc.parts.at(-2).ratings.delivery = [{ pressure_kPa: 300, supply_V: 12, flow_LPerH: -1, current_A: 5 }]
    },
    (doc) => [`parts[${doc.parts.length - 2}].ratings.delivery[0].flow_LPerH`],
  ],
  [
    'a row of delivery without its current',
    (doc) => {
      plumb(doc)
      doc.parts.at(-2).ratings.delivery = [{ pressure_kPa: 300, supply_V: 12, flow_LPerH: 100 }]
    },
    (doc) => [`parts[${doc.parts.length - 2}].ratings.delivery[0].current_A`],
  ],
  [
    'a day written another way',
    (doc) => {
      doc.asOf = '1 May 2024'
    },
    () => ['asOf'],
  ],
  [
    'the 29th of February in a common year',
    (doc) => {
      doc.asOf = '2100-02-29'
    },
    () => ['asOf'],
  ],
]
