import { expect, test } from 'vitest'
import { canonicalJson } from '../../server/api/canonical-json.ts'

test('RFC 8785, 3.2.2: the sample, written as the standard writes it', () => {
  const sample = String.raw`{
    "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
    "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
    "literals": [null, true, false]
  }`
  expect(canonicalJson(JSON.parse(sample))).toBe(
    String.raw`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
  )
})

test('RFC 8785, 3.2.3: names in the order of their UTF-16 code units', () => {
  const sample = String.raw`{"\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
    "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}`
  const values = [...canonicalJson(JSON.parse(sample)).matchAll(/:"([^"]+)"/g)].map((found) => found[1])
  expect(values).toEqual([
    'Carriage Return',
    'One',
    'Control',
    'Latin Small Letter O With Diaeresis',
    'Euro Sign',
    'Emoji: Grinning Face',
    'Hebrew Letter Dalet With Dagesh',
  ])
})

test('names of figures are sorted as names; what is in a list keeps its place; what differs reads otherwise', () => {
  expect(canonicalJson({ 9: 1, 10: 2, b: [{ d: 1, c: 2 }, 'a'] })).toBe('{"10":2,"9":1,"b":[{"c":2,"d":1},"a"]}')
  expect(canonicalJson([1, 2])).not.toBe(canonicalJson([2, 1]))
  expect(canonicalJson({ a: '1' })).not.toBe(canonicalJson({ a: 1 }))
  expect(canonicalJson({ a: { b: 1 } })).not.toBe(canonicalJson({ a: {}, b: 1 }))
})
