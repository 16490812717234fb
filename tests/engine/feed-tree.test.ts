import { expect, test } from 'vitest'
import { circuitOf } from '../../server/engine/circuit-of.ts'
import { feedTree } from '../../server/engine/feed-tree.ts'
import { battery, draws, off, ohms, type Parts, wiring } from './solve/wiring.ts'

const fuse: Parts[string] = ['fuse', { rated_A: 20, rated_V: 32 }]
/** component: its parent, depth, amperes */
const shownOf = (document: Parameters<typeof circuitOf>[0]) =>
  Object.fromEntries(
    feedTree(circuitOf(document), 0).map((row) => [row.component, [row.parent, row.depth, Math.round((row.current_A ?? 0) * 100) / 100]]),
  )

test('what hangs on the one post of a second battery is fed by it', () => {
  const rows = shownOf(
    wiring({
      parts: { bat: battery(12.6, 0.01), link: ohms(0.01), house: battery(12.6, 0.01), f: fuse, load: draws(6) },
      joins: ['bat:+ > link:a', 'link:b > house:+', 'house:- > bat:-', 'house:+ > f:in', 'f:out > load:+', 'load:- > house:-'],
      conditions: [off],
    }),
  )
  expect(rows.f).toEqual(['house', 1 + (rows.house?.[1] as number), 6])
  expect(rows.load).toEqual(['f', 1 + (rows.f?.[1] as number), 6])
})

test('fuses joined from terminal to terminal stand side by side, and a load joined on from another', () => {
  const rows = shownOf(
    wiring({
      parts: { bat: battery(12.6, 0.01), w: ohms(0.01), f1: fuse, f2: fuse, one: draws(1), two: draws(2), three: draws(3) },
      joins: [
        'bat:+ > w:a',
        'w:b > f1:in',
        'f1:in > f2:in',
        'f1:out > one:+',
        'f2:out > two:+',
        'two:+ > three:+',
        'one:- > bat:-',
        'two:- > bat:-',
        'three:- > bat:-',
      ],
      conditions: [off],
    }),
  )
  expect(rows.f1).toEqual(['bat', 1, 1])
  expect(rows.f2).toEqual(['bat', 1, 5])
  expect(rows.two).toEqual(['f2', 2, 2])
  expect(rows.three).toEqual(['f2', 2, 3])
})

test('a block shows the sum of what leaves it', () => {
  const rows = shownOf(
    wiring({
      parts: { bat: battery(12.6, 0.01), box: ['block', {}], f1: fuse, f2: fuse, one: draws(1), two: draws(2) },
      joins: ['bat:+ > box:in', 'box:1 > f1:in', 'box:2 > f2:in', 'f1:out > one:+', 'f2:out > two:+', 'one:- > bat:-', 'two:- > bat:-'],
      conditions: [off],
    }),
  )
  expect(rows.box).toEqual(['bat', 1, 3])
})

test('two joins between the same terminals do not go round for ever', () => {
  const rows = shownOf(
    wiring({
      parts: { bat: battery(12.6, 0.01), a: ['block', {}], f: fuse, g: fuse, load: draws(2) },
      joins: ['bat:+ > a:1', 'a:2 > f:in', 'f:in > g:in', 'a:3 > g:in', 'f:out > load:+', 'g:out > load:+', 'load:- > bat:-'],
      conditions: [off],
    }),
  )
  expect(rows.f?.[0]).toBe('a')
  expect(rows.g?.[0]).toBe('a')
})

test('the wire that works a relay is not a second feed of it', () => {
  const document = wiring({
    parts: { bat: battery(12.6, 0.01), s: ['switch', { rated_A: 5 }], r: ['relay', { coil_ohm: 90 }], load: draws(6) },
    joins: ['bat:+ > r:30', 'bat:+ > s:in', 's:out > r:86', 'r:85 > bat:-', 'r:87 > load:+', 'load:- > bat:-'],
    conditions: [off],
  })
  const relay = feedTree(circuitOf(document), 0).find((row) => row.component === 'r')
  expect([relay?.parent, relay?.alsoFedThrough]).toEqual(['bat', []])
})
