import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { parseDocument, parseText } from '../../server/document/parse.ts'

const good = () => JSON.parse(readFileSync(`${import.meta.dirname}/../networks/small.json`, 'utf8'))
type Doc = ReturnType<typeof good>
const fuse = (doc: Doc) => doc.parts.findIndex((part: { kind: string }) => part.kind === 'fuse')

// What is wrong, and the paths that must be named: all of them, and no others.
const cases: [string, (doc: Doc) => void, (doc: Doc) => string[]][] = [
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
]

describe('a document is refused whole, naming every fault', () => {
  test.each(cases)('%s', (_, spoil, paths) => {
    const doc = good()
    spoil(doc)
    const parsed = parseDocument(doc)
    expect(parsed.ok).toBe(false)
    if (!parsed.ok) expect(parsed.faults.map((fault) => fault.path).sort()).toEqual(paths(doc).sort())
  })

  test('what is not JSON says so', () => {
    expect(parseText('{')).toMatchObject({ ok: false })
  })
})

test.each(['small', 'large'])('%s is taken, and read again it is the same', (name) => {
  const document = JSON.parse(readFileSync(`${import.meta.dirname}/../networks/${name}.json`, 'utf8'))
  const parsed = parseDocument(document)
  expect(parsed).toEqual({ ok: true, document })
})
