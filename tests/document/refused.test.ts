import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'
import { parseDocument, parseText } from '../../server/document/parse.ts'
import { cases, good } from './refused-cases.ts'

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
