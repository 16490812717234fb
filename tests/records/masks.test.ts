import { describe, expect, test } from 'vitest'
import { isDayAlone, LEFT_OUT, maskOf } from '../../server/records/masks.ts'

const NONE = { numbers: [], names: [], suppliers: [], places: [], addresses: null, prices: false } as const
const mask = (more: Partial<Parameters<typeof maskOf>[0]>) => maskOf({ ...NONE, ...more })

describe('numbers', () => {
  const { name, words } = mask({ numbers: ['AB-12 CDE'] })
  test.each(['AB-12 CDE', 'ab12cde', 'A B 1 2 C D E', 'AB·12·CDE', 'ab.12.cde'])('%s is left out however it is written', (text) => {
    expect(name(`Seen ${text}, gone`)).toBe(`Seen ${LEFT_OUT}, gone`)
    expect(words(`(${text})`)).toBe(`(${LEFT_OUT})`)
  })
  test('not as a piece of something longer, and nothing so short that it stands everywhere', () => {
    expect(name('XAB12CDE AB12CDEF')).toBe('XAB12CDE AB12CDEF')
    expect(mask({ numbers: ['12', 'A1', '123'] }).name('12 V, A1, 123')).toBe('12 V, A1, 123')
  })
})

test('people by their whole name and by its words as they are written', () => {
  const { name, words } = mask({ names: ['Robin Oak'] })
  expect(name('Robin’s lamp, by robin oak')).toBe(`${LEFT_OUT}’s lamp, by ${LEFT_OUT}`)
  expect(words('a robin in an oak, Oakley')).toBe('a robin in an oak, Oakley')
})

test('suppliers and places in words, and not in the names of things', () => {
  const { name, words } = mask({ suppliers: ['Northern Stores'], places: ['Drawer 2 (left)'] })
  expect(words('From northern  stores, kept in Drawer 2 (left).')).toBe(`From ${LEFT_OUT}, kept in ${LEFT_OUT}.`)
  expect(name('Northern Stores relay')).toBe('Northern Stores relay')
})

test.each([
  ['3 May 2024', true],
  ['26 November 2026', true],
  ['May 2024', false],
  ['3 May 2024, by May', false],
  ['', false],
])('%j is a day alone: %s', (text, is) => expect(isDayAlone(text)).toBe(is))

test('signs of any kind in a private word are words too', () => {
  const signs = 'A-3 (b) [c] {d} a.b*c+d?e^f$g|h/i\\j'
  const { words } = mask({ numbers: [signs], names: ['Anne-Marie Oak'], suppliers: [signs], places: ['Shelf A-3'], addresses: [signs] })
  expect(words('By Anne-Marie, on Shelf A-3.')).toBe(`By ${LEFT_OUT}, on ${LEFT_OUT}.`)
  expect(words(`(${signs})`)).toBe(`(${LEFT_OUT})`)
})

describe('addresses by their shape', () => {
  const { words } = mask({ addresses: ['The Barn, Nowhere'] })
  test.each([
    'robin.oak@mail.example.org',
    '+44 7700 900123',
    '0049 30 1234567',
    '030 1234 5678',
    '51.50123, -0.12345',
    '12 High Street',
    '7b, Old Mill Lane',
    'Lindenstraße 12',
    'The Barn, Nowhere',
  ])('%s', (text) => expect(words(`At ${text}.`)).toBe(`At ${LEFT_OUT}.`))
  test.each([
    'Relay R7, 30 A, way 4 of 12',
    'Measured 12.61 V, 0.35 V drop over 2.5 mm²',
    'Part number 0986-345 at 148 200 km on 2024-05-03',
    'Block B, way 3; ISO 8820-3; 10-32 screw',
    'Row 3, ground G2, 0.25 m of wire',
  ])('what a workshop writes stays: %s', (text) => expect(mask({ addresses: [], prices: true }).words(text)).toBe(text))
})

test.each(['€ 45', '45.50 €', '$1,200', '99 EUR', '1200 pounds', '£12'])('a sum of money: %s', (text) => {
  expect(mask({ prices: true }).words(`Paid ${text}, done`)).toBe(`Paid ${LEFT_OUT}, done`)
  expect(mask({}).words(text)).toBe(text)
})

test('all shapes at once leave out what each by itself does', () => {
  const known = {
    numbers: ['AB-12 CDE'],
    names: ['Robin Oak', 'left'],
    suppliers: ['Northern Stores'],
    places: ['Drawer 2'],
    addresses: ['The Barn'],
    prices: true,
  }
  const alone = [
    { numbers: known.numbers },
    ...known.names.map((one) => ({ names: [one] })),
    { suppliers: known.suppliers },
    { places: known.places },
    { addresses: known.addresses },
    { prices: true },
  ].map((one) => mask(one).words)
  const { words } = mask(known)
  const pieces = [
    'ab12cde',
    'Robin',
    'robin oak',
    'left',
    'northern stores',
    'drawer 2',
    'the barn',
    'robin@mail.example.org',
    '12 High Street',
    '€ 30',
    '30 EUR',
    'fuse',
  ]
  for (const first of pieces)
    for (const second of pieces) {
      const text = `At ${first}, then ${second}.`
      expect(words(text)).toBe(alone.reduce((rest, one) => one(rest), text))
    }
})

test('of hundreds of places each is looked for', () => {
  const places = Array.from({ length: 250 }, (_, n) => `Drawer ${n} behind the bench`)
  const { words } = mask({ places })
  for (const n of [0, 99, 100, 249]) expect(words(`From ${places[n]}, gone`)).toBe(`From ${LEFT_OUT}, gone`)
  expect(words('From Drawer 250 behind the bench, gone')).toBe('From Drawer 250 behind the bench, gone')
})
