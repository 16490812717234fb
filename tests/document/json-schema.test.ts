import { Ajv2020 } from 'ajv/dist/2020.js'
import { describe, expect, test } from 'vitest'
import { documentSchema } from '../../server/document/json-schema.ts'
import { full } from './full-document.ts'
import { cases, good } from './refused-cases.ts'

// An independent validator of JSON Schema 2020-12.
const accepts = new Ajv2020({ allErrors: true, strict: true, strictTypes: false }).compile(documentSchema())

// What one list says of another is beyond a schema; so is which sizes a system has, and which days a month has.
const beyondSchema = [
  'evidence for a rating that is not there',
  'a part key twice',
  'a component key twice',
  'a part that is not there',
  'a zone that is not there',
  'a join to a component that is not there',
  'a join to a terminal that is not there',
  'a join onto itself',
  'a condition with a load that is not there',
  'a fuse called a load',
  'a wire called open',
  'a day that is none',
  'evidence for a prototype',
  'evidence for what every object inherits',
  'evidence for a zone figure that is not there',
  'a conductor with both a cross-section and a size',
  'a size the system has not',
  'a size by the name of what every object inherits',
  'a size in hexadecimal',
  'a condition key twice',
  'a zone key twice',
  'a fitting at a terminal that is not there',
  'fluid joined to current',
  'a hose end joined to a post of its pump',
  'the 29th of February in a common year',
]

describe('the JSON Schema says what the parser says', () => {
  test('it accepts documents that are taken', () => {
    expect(accepts(good()), JSON.stringify(accepts.errors)).toBe(true)
    expect(accepts(full()), JSON.stringify(accepts.errors)).toBe(true)
  })

  test('every case set apart is a case', () => {
    const names = cases.map(([name]) => name)
    expect(beyondSchema.filter((name) => !names.includes(name))).toEqual([])
  })

  test.each(cases)('%s', (name, spoil) => {
    const doc = good()
    spoil(doc)
    expect(accepts(doc)).toBe(beyondSchema.includes(name))
  })
})
