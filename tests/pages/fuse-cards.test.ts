import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import {
  CARD_SIZES,
  type ChartRow,
  COLUMNS,
  cardsView,
  planCards,
  roughLines,
  WITHOUT_SPARES,
} from '../../server/pages/shared/fuse-cards.ts'

/** Every text as many lines as its words, whatever the type: so heights can be added by hand. */
const linesOf = (text: string) => text.split(' ').length
const row = (words: number): ChartRow => ({
  position: 'F1',
  rating: '10',
  colour: 'red',
  feeds: Array.from({ length: words }, () => 'word').join(' '),
  wire: '1',
  spare: '0',
})
const around = { title: 'Title', foot: 'Foot' }
const planned = (rows: readonly ChartRow[]) => planCards(rows, { size: CARD_SIZES.card, columns: COLUMNS, around, linesOf })

/**
 * A card of 60 mm with margins of 3 leaves 54. At 8 pt a line takes 8 × 25.4/72 × 1.15 = 3.2456 mm. Title, foot and heads take three of them
 * and 3 × 0.35 more, so rows have 54 − 9.737 − 1.05 = 43.21 mm. A row of one line takes 3.2456 + 0.7 = 3.9456: ten of them are 39.46, eleven 43.40.
 */
test('ten rows fit at 8 pt, eleven do not', () => {
  expect(planned(Array.from({ length: 10 }, () => row(1)))).toMatchObject({ size_pt: 8, cards: { length: 1 } })
  expect(planned(Array.from({ length: 11 }, () => row(1))).size_pt).toBe(7.5)
})

/** A row of n lines at 8 pt takes 3.2456 n + 0.7: 13 lines are 42.89, 14 are 46.14. At 7.5 pt: 3.0427 n + 0.7 of 54 − 9.128 − 1.05 = 43.82: 14 are 43.30. */
test('a row that is too long by itself takes a smaller type, on one card as on several', () => {
  expect(planned([row(13)]).size_pt).toBe(8)
  expect(planned([row(14)]).size_pt).toBe(7.5)
  // At 6 pt a line is 2.4342 mm, and rows have 54 − 7.303 − 1.05 = 45.65: 18 lines are 44.52, 19 are 46.95. At 5.5 pt, 2.2313 of 46.26: 20 are 45.33.
  expect(planned([row(18), row(18)])).toMatchObject({ size_pt: 6, cards: { length: 2 } })
  expect(planned([row(18), row(20)])).toMatchObject({ size_pt: 5.5, cards: { length: 2 } })
})

test('a row that fits on no card is cut, and the cut is seen', () => {
  const { size_pt, cards } = planned([row(60), row(1)])
  expect(size_pt).toBe(5.5)
  const [first] = cards.flat()
  expect(first?.feeds.endsWith('…')).toBe(true)
  expect(first?.feeds.split(' ').length).toBeLessThanOrEqual(20)
  expect(cards.flat().length).toBe(2)
})

test('over several cards the rows are dealt evenly, none lost, in their order', () => {
  const rows = Array.from({ length: 17 }, (_, n) => ({ ...row(1), position: `F${n + 1}` }))
  const { size_pt, cards } = planned(rows)
  // At 6 pt a row of one line takes 3.134 mm: fourteen fit on a card, so there are two.
  expect([size_pt, cards.map((card) => card.length)]).toEqual([6, [9, 8]])
  expect(cards.flat().map((one) => one.position)).toEqual(rows.map((one) => one.position))
})

test('without spares the other columns share the whole width', () => {
  for (const columns of [COLUMNS, WITHOUT_SPARES]) expect(columns.reduce((sum, one) => sum + one.share, 0)).toBe(100)
  expect(WITHOUT_SPARES.map((one) => one.id)).not.toContain('spare')
})

/**
 * "(assumed)" has nine characters. At 7 pt they take 9 × 0.6 × 7 × 25.4/72 = 13.34 mm, at 7.5 pt 14.29; 17.5 of a hundred of 84 mm, less the gap of 1, are 13.7.
 * On A5, 17.5 of a hundred of 130 less 1 are 21.75: at 11 pt they take 20.96, at 12 pt 22.86.
 */
test.each([
  ['card', 7],
  ['a5', 11],
] as const)('a fuse without a grade takes no more from a %s than its word needs', (size, size_pt) => {
  const rows = [row(1), { ...row(1), rating: '15\u00a0A (assumed)' }]
  for (const columns of [COLUMNS, WITHOUT_SPARES])
    expect(planCards(rows, { size: CARD_SIZES[size], columns, around, linesOf: roughLines })).toMatchObject({
      size_pt,
      cards: { length: 1 },
    })
})

/** "Colour", six strong characters, takes 6 × 0.64 × 8 × 25.4/72 = 10.84 mm at 8 pt and 10.16 at 7.5, of 14 hundredths of 84 mm less 1, 10.76. */
test('a word that no size holds is left out of the choice; a figure never is', () => {
  const planned = (rating: string) =>
    planCards([row(1), { ...row(1), rating }], { size: CARD_SIZES.card, columns: COLUMNS, around, linesOf: roughLines })
  expect(planned('15\u00a0A (nowhere-written-down)')).toMatchObject({ size_pt: 7.5, cards: { length: 1 } })
  // Twelve characters at 5.5 pt take 13.97 mm, eleven 12.81; at 6 pt eleven take 13.97.
  expect(planned('15.000000\u00a0A (nowhere-written-down)').size_pt).toBe(5.5)
})

test('the style sheet gives each column the share that is reckoned with', () => {
  const css = readFileSync('static/on-paper.css', 'utf8')
  const given = (table: string) =>
    [...css.matchAll(/table\.chart(\.no-spares)? thead th:nth-child\((\d)\) \{ width: ([\d.]+)%; \}/g)]
      .filter(([, own = '']) => own === table)
      .map(([, , n, share]) => [Number(n), Number(share)])
  expect(given('')).toEqual(COLUMNS.map((one, n) => [n + 1, one.share]))
  const shares = new Map([...given(''), ...given('.no-spares')] as [number, number][])
  expect(WITHOUT_SPARES.map((_, n) => shares.get(n + 1))).toEqual(WITHOUT_SPARES.map((one) => one.share))
})

test('where something is cut the page says so, and that A5 holds more', () => {
  const fuse = { name: 'F1', position: 'F1', form: '', rating: '10 A', colour: 'red', colourSource: '', wire: '1 mm²' }
  const shown = (feeds: number, size: 'card' | 'a5') =>
    cardsView({
      vehicle: 'Fern',
      box: {
        key: 'box',
        name: 'Box',
        ways: '',
        rows: [{ ...fuse, feeds: Array.from({ length: feeds }, (_, n) => `Work lamp ${n}`), breaking: '', clears: '', spare: 'none' }],
      },
      place: 1,
      size,
      columns: WITHOUT_SPARES,
      on: '2026-11-25',
      isWhole: true,
    })
  const cells = (view: ReturnType<typeof shown>) => view.cards.flatMap((card) => card.rows.flatMap((one) => one.cells)).join(' ')
  expect(cells(shown(60, 'card'))).toContain('…')
  expect(shown(60, 'card').split).toBe('Texts that end in “…” are cut to fit; a card of A5 holds more of them.')
  expect([cells(shown(60, 'a5')).includes('…'), shown(60, 'a5').split]).toEqual([false, ''])
  expect(cells(shown(600, 'a5'))).toContain('…')
  expect(shown(600, 'a5').split).toBe('Texts that end in “…” are cut to fit.')
  expect(shown(4, 'card').split).toBe('')
})
