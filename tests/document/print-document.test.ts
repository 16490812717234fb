import { readdirSync, readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { parseDocument, parseText } from '../../server/document/parse.ts'
import { printDocument } from '../../server/document/print-document.ts'
import type { VehicleDocument } from '../../server/engine/vehicle.ts'
import { full } from './full-document.ts'

const networks = `${import.meta.dirname}/../networks`
const documents: [string, () => unknown][] = [
  ['every field', full],
  ...readdirSync(networks)
    .filter((name) => name.endsWith('.json') && !name.endsWith('.operating-point.json'))
    .map((name): [string, () => unknown] => [name, () => JSON.parse(readFileSync(`${networks}/${name}`, 'utf8'))]),
]

test('both samples and the document with every field are among them', () => {
  expect(documents.map(([name]) => name)).toEqual(expect.arrayContaining(['every field', 'small.json', 'large.json']))
})

test.each(documents)('%s is taken whole, printed, and read again it is the same', (_, load) => {
  const document = load()
  const first = parseDocument(document)
  expect(first).toEqual({ ok: true, document })
  if (!first.ok) return
  const text = printDocument(first.document)
  const again = parseText(text)
  expect(again).toEqual(first)
  if (again.ok) expect(printDocument(again.document)).toBe(text)
})

test('the order in which fields were written does not matter', () => {
  expect(printDocument(reversed(full()) as VehicleDocument)).toBe(printDocument(full()))
})

/** The same value with the fields of every object in reverse; lists keep their order. */
function reversed(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(reversed)
  if (typeof value !== 'object' || value === null) return value
  return Object.fromEntries(
    Object.entries(value)
      .reverse()
      .map(([name, one]) => [name, reversed(one)]),
  )
}
