/** What stands on the shelf and what it cost: purchases, leftovers, costs, the currency. */
import { describe, expect, it } from 'vitest'
import { costsOf } from '../../server/records/costs.ts'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { cutLeftover, keepLeftover, leftoversOf, leftoverTotals } from '../../server/records/leftovers.ts'
import { lastPriceOf, purchasesOf, recordPurchase, removePurchase } from '../../server/records/purchases.ts'
import { currencyOf, setCurrency } from '../../server/records/settings.ts'
import { countStock, stockOf } from '../../server/records/stock.ts'
import { type Book, fit, household, openBook, rowCounts, value } from './book.ts'

const stock = (book: Book, part: string) => stockOf(book.db, book.actor, part)
const buy = (book: Book, given: Partial<Parameters<typeof recordPurchase>[3]> = {}) =>
  recordPurchase(book.db, book.clock, book.actor, { partId: book.part.fuse30, boughtOn: '2026-05-01', count: 4, ...given })

describe('a purchase', () => {
  it('adds to the count, until the next count says what is there', () => {
    const book = openBook()
    value(countStock(book.db, book.clock, book.actor, book.part.fuse30, 3, 'Drawer 2'))
    expect(value(buy(book)).inStock).toBe(7)
    value(append(book.db, book.clock, book.actor, book.entry('2026-05-02', [fit('f1', book.part.fuse30)])))
    expect(stock(book, book.part.fuse30)).toEqual({ inStock: 6, place: 'Drawer 2' })
    value(countStock(book.db, book.clock, book.actor, book.part.fuse30, 5))
    expect(stock(book, book.part.fuse30).inStock).toBe(5)
    value(buy(book, { count: 1 }))
    expect(stock(book, book.part.fuse30)).toEqual({ inStock: 6, place: 'Drawer 2' })
  })

  it('counts from none where nothing was counted, in the order things were recorded', () => {
    const book = openBook()
    // Fitted before it was bought, as the records go: there were none to take, so none is missing afterwards.
    value(append(book.db, book.clock, book.actor, book.entry('2026-05-02', [fit('f1', book.part.fuse30)])))
    expect(value(buy(book)).inStock).toBe(4)
  })

  it('of what is fitted or counted already leaves the count as it is', () => {
    const book = openBook()
    value(countStock(book.db, book.clock, book.actor, book.part.fuse30, 3, 'Drawer 2'))
    expect(value(buy(book, { countStays: true })).inStock).toBe(3)
    expect(stock(book, book.part.fuse30)).toEqual({ inStock: 3, place: 'Drawer 2' })
  })

  it('removed again takes back what it added', () => {
    const book = openBook()
    const { id } = value(buy(book))
    value(removePurchase(book.db, book.actor, { partId: book.part.fuse30, purchaseId: id }))
    expect(stock(book, book.part.fuse30).inStock).toBe(0)
    expect(purchasesOf(book.db, book.actor, book.part.fuse30)).toEqual([])
    expect(removePurchase(book.db, book.actor, { partId: book.part.fuse30, purchaseId: id })).toMatchObject({
      refusals: [{ code: 'not-found' }],
    })
  })

  it('gives the price of one, of the last purchase whose price is known', () => {
    const book = openBook()
    value(buy(book, { boughtOn: '2026-05-03', count: 10, price_minor: 499, supplier: ' Corner shop ' }))
    value(buy(book, { boughtOn: '2026-05-04' }))
    value(buy(book, { boughtOn: '2024-05-04', price_minor: 4 }))
    const bought = purchasesOf(book.db, book.actor, book.part.fuse30)
    expect(bought.map((one) => [one.boughtOn, one.supplier])).toEqual([
      ['2026-05-04', ''],
      ['2026-05-03', 'Corner shop'],
      ['2024-05-04', ''],
    ])
    // 4.99 for ten is 0.499 each, 0.50 to the nearest hundredth.
    expect(lastPriceOf(bought)).toEqual({ price_minor: 50, on: '2026-05-03' })
    expect(lastPriceOf([])).toBeNull()
  })

  it.each([
    ['none', { count: 0 }, 'count'],
    ['half a piece', { count: 1.5 }, 'count'],
    ['a price below nothing', { price_minor: -1 }, 'price_minor'],
    ['a part of a penny', { price_minor: 0.5 }, 'price_minor'],
    ['a day that does not exist', { boughtOn: '2026-02-30' }, 'boughtOn'],
    ['a supplier of 201 letters', { supplier: 'x'.repeat(201) }, 'supplier'],
  ])('of %s is refused', (_, wrong, field) => {
    const book = openBook()
    const before = rowCounts(book.db)
    expect(buy(book, wrong)).toMatchObject({ ok: false, refusals: [{ code: 'not-valid', field }] })
    expect(rowCounts(book.db)).toEqual(before)
  })
})

describe('a leftover', () => {
  const keep = (book: Book, length_m: number, place = 'Hook 3', partId = book.part.wire) =>
    keepLeftover(book.db, book.clock, book.actor, { partId, length_m, place })

  it('stands with its length and place, longest first, with what is left in all', () => {
    const book = openBook()
    value(keep(book, 0.1))
    value(keep(book, 4.2))
    value(keep(book, 0.2))
    const { pieces, total_m } = leftoversOf(book.db, book.actor, book.part.wire)
    expect(pieces.map((one) => [one.length_m, one.place])).toEqual([
      [4.2, 'Hook 3'],
      [0.2, 'Hook 3'],
      [0.1, 'Hook 3'],
    ])
    expect(total_m).toBe(4.5)
    expect(leftoverTotals(book.db, book.actor)).toEqual(new Map([[book.part.wire, 4.5]]))
  })

  it('is cut shorter or used up, and never grows', () => {
    const book = openBook()
    const { id } = value(keep(book, 4.2))
    const cut = (length_m: number) => cutLeftover(book.db, book.clock, book.actor, { partId: book.part.wire, leftoverId: id, length_m })
    value(cut(1.5))
    expect(leftoversOf(book.db, book.actor, book.part.wire).total_m).toBe(1.5)
    expect(cut(1.6)).toMatchObject({ ok: false, refusals: [{ field: 'length_m' }] })
    expect(cut(-1)).toMatchObject({ ok: false, refusals: [{ field: 'length_m' }] })
    value(cut(0))
    expect(leftoversOf(book.db, book.actor, book.part.wire)).toEqual({ pieces: [], total_m: 0 })
    expect(cut(0)).toMatchObject({ ok: false, refusals: [{ code: 'not-found' }] })
  })

  it.each([0, -1, 10_001, Number.NaN, Number.POSITIVE_INFINITY])('of %d m is refused', (length_m) => {
    const book = openBook()
    expect(keep(book, length_m)).toMatchObject({ ok: false, refusals: [{ field: 'length_m' }] })
    expect(leftoversOf(book.db, book.actor, book.part.wire).pieces).toEqual([])
  })

  it('is of wire and hose only', () => {
    const book = openBook()
    expect(keep(book, 1, '', book.part.fuse30)).toMatchObject({ ok: false, refusals: [{ code: 'not-valid' }] })
  })
})

describe('what it cost', () => {
  it('sums the entries that stand, by vehicle and year, and keeps purchases beside them', () => {
    const book = openBook()
    const spend = (on: string, cost_minor?: number) =>
      value(
        append(
          book.db,
          book.clock,
          book.actor,
          book.entry(on, [{ kind: 'noted', text: 'x' }], cost_minor === undefined ? {} : { cost_minor }),
        ),
      )
    spend('2024-01-01', 1000)
    spend('2024-12-31', 25)
    spend('2025-01-01')
    spend('2026-03-01', 0)
    const gone = spend('2024-06-01', 7000)
    const undo = value(withdraw(book.db, book.clock, book.actor, gone.id))
    const mended = spend('2026-04-01', 500)
    value(correct(book.db, book.clock, book.actor, mended.id, book.entry('2026-04-01', [], { cost_minor: 900 })))
    value(buy(book, { price_minor: 499 }))
    value(buy(book, { boughtOn: '2023-05-01', price_minor: 1 }))
    const costs = costsOf(book.db, book.actor)
    expect(costs.years).toEqual(['2026', '2024', '2023'])
    expect(costs.byVehicle).toEqual(
      new Map([
        [
          book.vehicleId,
          new Map([
            ['2024', 1025],
            ['2026', 900],
          ]),
        ],
      ]),
    )
    expect(costs.bought).toEqual(
      new Map([
        ['2023', 1],
        ['2026', 499],
      ]),
    )
    expect(undo.withdrawn).toBe(true)
    // The withdrawal withdrawn: it counts again.
    const back = book.db.$client
      .prepare("SELECT id FROM entries WHERE corrects_id = ? AND correction = 'withdrawn'")
      .pluck()
      .get(gone.id) as string
    value(withdraw(book.db, book.clock, book.actor, back))
    expect(costsOf(book.db, book.actor).byVehicle.get(book.vehicleId)?.get('2024')).toBe(8025)
  })

  it('has a currency that is a sign or a word, none at first', () => {
    const book = openBook()
    expect(currencyOf(book.db, book.actor)).toBe('')
    value(setCurrency(book.db, book.actor, ' € '))
    value(setCurrency(book.db, book.actor, 'kr'))
    expect(currencyOf(book.db, book.actor)).toBe('kr')
    for (const wrong of ['9', 'a longish word', 'a\u0000', 'a\u202e'])
      expect(setCurrency(book.db, book.actor, wrong), wrong).toMatchObject({ ok: false, refusals: [{ field: 'currency' }] })
    value(setCurrency(book.db, book.actor, ''))
    expect(currencyOf(book.db, book.actor)).toBe('')
  })
})

it('another household sees and touches none of it', () => {
  const book = openBook()
  const stranger = household(book.db, book.clock, 'Stranger')
  const bought = value(buy(book, { price_minor: 499 }))
  const piece = value(keepLeftover(book.db, book.clock, book.actor, { partId: book.part.wire, length_m: 1, place: '' }))
  value(setCurrency(book.db, book.actor, '€'))
  const before = rowCounts(book.db)
  expect(purchasesOf(book.db, stranger, book.part.fuse30)).toEqual([])
  expect(leftoversOf(book.db, stranger, book.part.wire).pieces).toEqual([])
  expect(leftoverTotals(book.db, stranger).size).toBe(0)
  expect(costsOf(book.db, stranger)).toEqual({ years: [], byVehicle: new Map(), bought: new Map() })
  expect(currencyOf(book.db, stranger)).toBe('')
  for (const answer of [
    recordPurchase(book.db, book.clock, stranger, { partId: book.part.fuse30, boughtOn: '2026-05-01', count: 1 }),
    removePurchase(book.db, stranger, { partId: book.part.fuse30, purchaseId: bought.id }),
    keepLeftover(book.db, book.clock, stranger, { partId: book.part.wire, length_m: 1, place: '' }),
    cutLeftover(book.db, book.clock, stranger, { partId: book.part.wire, leftoverId: piece.id, length_m: 0 }),
  ])
    expect(answer).toMatchObject({ ok: false, refusals: [{ code: 'not-found' }] })
  expect(rowCounts(book.db)).toEqual(before)
})
