import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { createPart, revisePart } from '../../server/records/parts.ts'
import { componentsCalled, type Found, type SearchKind, search, wordsOf } from '../../server/records/search.ts'
import { fillSearch, mendSearch } from '../../server/records/search-rows.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type Book, fit, household, openBook, value } from './book.ts'

const find = (book: Book, asked: string, more: { kind?: SearchKind; vehicleId?: string; page?: number } = {}): Found =>
  search(book.db, book.actor, { asked, ...more })
const text = (pieces: readonly { readonly text: string }[]): string => pieces.map((piece) => piece.text).join('')
const titles = (found: Found): string[] => found.hits.map((hit) => `${hit.kind}: ${text(hit.title)}`)
const log = (book: Book, on: string, title: string, changes: Parameters<Book['entry']>[1], words = '') =>
  value(append(book.db, book.clock, book.actor, book.entry(on, changes, { title, text: words })))
const rows = (book: Book) =>
  book.db.$client.prepare('SELECT household_id, kind, ref_id, vehicle_id, title, body FROM search_rows ORDER BY kind, ref_id').all()

describe('what is found', () => {
  it('an entry by its title, its text and its sentences', () => {
    const book = openBook()
    const entry = log(book, '2024-05-03', 'Ground strap renewed', [fit('r7', book.part.relay)], 'Green corrosion under the lug')
    for (const asked of ['strap', 'GREEN corros', 'fitted', '40 A relay fitted']) {
      const [hit] = find(book, asked, { kind: 'entry' }).hits
      expect(hit, asked).toMatchObject({
        kind: 'entry',
        id: entry.id,
        vehicleId: book.vehicleId,
        vehicleName: 'Bramble',
        on: '2024-05-03',
        withdrawn: false,
      })
    }
  })

  it('a component by its name, a former name, its place and its part', () => {
    const book = openBook()
    log(book, '2024-01-01', 'Zone', [{ kind: 'described', zone: { key: 'bay', name: 'Engine bay' } }])
    log(book, '2024-01-02', 'Fitted', [
      { kind: 'fitted', component: { key: 'r7', name: 'Pump relay', part: book.part.relay, zone: 'bay', position: 'K4' } },
    ])
    log(book, '2024-01-03', 'Named', [{ kind: 'renamed', component: 'r7', name: 'Fan relay' }])
    for (const asked of ['fan', 'pump', 'engine bay', 'K4', '40 A', 'r7'])
      expect(find(book, asked, { kind: 'component' }).hits, asked).toMatchObject([
        { id: 'r7', title: [{ text: expect.any(String) }, ...(asked === 'fan' ? [{}] : [])] },
      ])
    log(book, '2024-01-04', 'Out', [{ kind: 'removed', component: 'r7', fate: 'bin' }])
    expect(find(book, 'fan', { kind: 'component' }).count).toBe(0)
    expect(find(book, 'fan', { kind: 'entry' }).count).toBeGreaterThan(0)
  })

  it('a reading by what, where and how much, with its day', () => {
    const book = openBook()
    log(book, '2024-01-01', 'In', [fit('lamp', book.part.lamp)])
    const entry = log(book, '2024-02-02', 'Measured', [{ kind: 'measured', at: 'lamp:+', quantity: 'voltage', value: 12.6 }])
    for (const asked of ['12.6 V', 'voltage lamp', '2024-02-02'])
      expect(find(book, asked, { kind: 'reading' }).hits, asked).toMatchObject([{ id: entry.id, on: '2024-02-02' }])
    expect(titles(find(book, '12.6', { kind: 'reading' }))).toEqual(['reading: 12.6 V at LAMP +'])
  })

  // Each is found by what is typed, and the thing beside it, which differs in one letter, is not.
  it.each([
    ['10-32', 'Screw 10-32 UNF', 'Screw 10-24 UNC'],
    ['M8x1.25', 'Stud M8x1.25', 'Stud M8x1.5'],
    ['1.5 mm²', 'Wire 1.5 mm² red', 'Wire 4 mm² red'],
    ['1.5 mm2', 'Wire 1.5 mm² red', 'Wire 4 mm² red'],
    ["O'Brien", "Bracket by O'Brien", 'Bracket by Brienne'],
    ['LB-0042/7', 'Pump LB-0042/7', 'Pump LB-0043/7'],
    ['GRÜN', 'Kabel grün', 'Kabel blau'],
    ['grun', 'Kabel grün', 'Kabel blau'],
    ['ground corro', 'Ground with corrosion', 'Ground, clean'],
  ])('%s as typed', (asked, is, isNot) => {
    const book = openBook()
    for (const name of [is, isNot]) value(createPart(book.db, book.clock, book.actor, { kind: 'splice', name, ratings: {} }))
    expect(titles(find(book, asked))).toEqual([`part: ${is}`])
  })

  it('marks what was sought, and nothing else', () => {
    const book = openBook()
    value(createPart(book.db, book.clock, book.actor, { kind: 'fuse', name: 'A relaxed relay of Relays', ratings: {} }))
    expect(find(book, 'relay relax').hits[0]?.title).toEqual([
      { text: 'A ', sought: false },
      { text: 'relaxed', sought: true },
      { text: ' ', sought: false },
      { text: 'relay', sought: true },
      { text: ' of ', sought: false },
      { text: 'Relays', sought: true },
    ])
  })

  it('a word in a title before the same word in the text', () => {
    const book = openBook()
    log(book, '2024-01-01', 'Thimble looked at', [fit('a', book.part.lamp)])
    log(book, '2024-01-02', 'Something else', [fit('b', book.part.lamp)], 'with a thimble beside it')
    expect(titles(find(book, 'thimble'))).toEqual(['entry: Thimble looked at', 'entry: Something else'])
  })

  it('twenty to a page, each once, and a page past the last is the last', () => {
    const book = openBook()
    for (let n = 0; n < 45; n++) value(createPart(book.db, book.clock, book.actor, { kind: 'fuse', name: `Thimble ${n}`, ratings: {} }))
    const pages = [1, 2, 3].map((page) => find(book, 'thimble', { page }))
    expect(pages.map((page) => page.hits.length)).toEqual([20, 20, 5])
    expect(new Set(pages.flatMap((page) => page.hits.map((hit) => hit.id))).size).toBe(45)
    expect(pages[0]).toMatchObject({ count: 45, atLeast: false, pages: 3 })
    for (const page of [4, 1e9, Number.POSITIVE_INFINITY]) expect(find(book, 'thimble', { page })).toEqual(pages[2])
    for (const page of [0, -1, Number.NaN]) expect(find(book, 'thimble', { page })).toEqual(pages[0])
  })

  it('past a thousand says so, and still puts an old title first', () => {
    const book = openBook()
    value(createPart(book.db, book.clock, book.actor, { kind: 'fuse', name: 'The thimble', ratings: {} }))
    const put = book.db.$client.prepare(
      "INSERT INTO search_rows (household_id, kind, ref_id, title, body) VALUES (?, 'part', ?, 'Other', 'thimble')",
    )
    for (let n = 0; n < 1100; n++) put.run(book.actor.householdId, `none-${n}`)
    const found = find(book, 'thimble')
    expect(found).toMatchObject({ count: 1000, atLeast: true })
    expect(titles(found)[0]).toBe('part: The thimble')
  })
})

describe('only what stands is found', () => {
  it('a replaced version is not, its successor is; a withdrawn entry is marked, and plain again when it is brought back', () => {
    const book = openBook()
    const first = log(book, '2024-01-01', 'Thimbel fitted', [fit('a', book.part.lamp)])
    const second = value(
      correct(book.db, book.clock, book.actor, first.id, {
        ...book.entry('2024-01-01', [fit('a', book.part.lamp)]),
        title: 'Thimble fitted',
      }),
    )
    expect(find(book, 'thimbel').count).toBe(0)
    expect(find(book, 'thimble').hits).toMatchObject([{ id: second.id, withdrawn: false }])
    value(withdraw(book.db, book.clock, book.actor, second.id))
    expect(find(book, 'thimble').hits).toMatchObject([{ id: second.id, withdrawn: true }])
    expect(find(book, 'a', { kind: 'component' }).count).toBe(0)
    const marks = book.db.$client
      .prepare("SELECT id FROM entries WHERE corrects_id = ? AND correction = 'withdrawn'")
      .pluck()
      .get(second.id) as string
    value(withdraw(book.db, book.clock, book.actor, marks))
    expect(find(book, 'thimble').hits).toMatchObject([{ id: second.id, withdrawn: false }])
    expect(find(book, 'a', { kind: 'component' }).count).toBe(1)
  })

  it('a reading of a withdrawn entry is not', () => {
    const book = openBook()
    log(book, '2024-01-01', 'In', [fit('lamp', book.part.lamp)])
    const entry = log(book, '2024-02-02', 'Measured', [{ kind: 'measured', at: 'lamp', quantity: 'current', value: 4.25 }])
    expect(find(book, '4.25', { kind: 'reading' }).count).toBe(1)
    value(withdraw(book.db, book.clock, book.actor, entry.id))
    expect(find(book, '4.25', { kind: 'reading' }).count).toBe(0)
  })

  it('a part is found by its name of today and by earlier ones, and so is what speaks of it', () => {
    const book = openBook()
    log(book, '2024-01-01', 'In', [fit('r7', book.part.relay)])
    value(revisePart(book.db, book.clock, book.actor, book.part.relay, { name: 'Thimble relay', ratings: { make_A: 40 } }))
    expect(titles(find(book, 'thimble')).sort()).toEqual(['component: R7', 'entry: In', 'part: Thimble relay'])
    expect(titles(find(book, '40 A relay', { kind: 'part' }))).toEqual(['part: Thimble relay'])
  })

  it('nothing of a refused entry', () => {
    const book = openBook()
    const before = rows(book)
    expect(append(book.db, book.clock, book.actor, book.entry('2024-01-01', [fit('a', 'no such part')])).ok).toBe(false)
    expect(rows(book)).toEqual(before)
  })

  it('B3: another household finds nothing of it, by any filter, and rows with its words stay uncounted', () => {
    const book = openBook()
    log(book, '2024-01-01', 'Thimble', [fit('thimble', book.part.lamp)])
    const stranger = household(book.db, book.clock, 'Stranger')
    for (const more of [
      {},
      { vehicleId: book.vehicleId },
      { kind: 'component' as const },
      { kind: 'part' as const },
      { vehicleId: book.vehicleId, kind: 'entry' as const },
    ])
      for (const asked of ['thimble', 'lamp', '40'])
        expect(search(book.db, stranger, { asked, ...more })).toMatchObject({ count: 0, hits: [] })
    expect(componentsCalled(book.db, stranger, 'thimble')).toEqual([])
    expect(componentsCalled(book.db, book.actor, 'Thimble')).toMatchObject([{ key: 'thimble', vehicleName: 'Bramble' }])
  })
})

describe('the rows can be made again', () => {
  const busy = (): Book => {
    const book = openBook()
    const one = log(book, '2024-01-01', 'In', [fit('r7', book.part.relay), fit('lamp', book.part.lamp)])
    log(book, '2024-03-01', 'Named', [{ kind: 'renamed', component: 'lamp', name: 'Left lamp' }])
    log(book, '2024-02-01', 'Late', [
      { kind: 'renamed', component: 'lamp', name: 'A lamp' },
      { kind: 'measured', at: 'lamp', quantity: 'current', value: 4 },
    ])
    value(withdraw(book.db, book.clock, book.actor, log(book, '2024-04-01', 'Slip', [{ kind: 'noted', text: 'no' }]).id))
    value(
      correct(book.db, book.clock, book.actor, one.id, {
        ...book.entry('2024-01-02', [fit('r7', book.part.relay), fit('lamp', book.part.lamp)]),
        title: 'In, a day on',
      }),
    )
    value(
      revisePart(book.db, book.clock, book.actor, book.part.lamp, { name: 'Lamp of 4 A', ratings: { behaviour: 'current', current_A: 4 } }),
    )
    return book
  }

  it('and are the same as those kept with every record', async () => {
    const book = busy()
    const kept = rows(book)
    expect(kept.length).toBeGreaterThan(10)
    expect(await mendSearch(book.db)).toBe(0)
    book.db.$client.exec('DELETE FROM search_rows')
    expect(await mendSearch(book.db)).toBe(kept.length)
    expect(rows(book)).toEqual(kept)
    book.db.$client.exec("INSERT INTO search_index (search_index, rank) VALUES ('integrity-check', 1)")
  })

  const spoilt: readonly (readonly [string, string])[] = [
    ['a title', "UPDATE search_rows SET title = 'wrong' WHERE kind = 'entry'"],
    ['a text of a part', "UPDATE search_rows SET body = 'wrong' WHERE kind = 'part'"],
    ['the vehicle of a row', "UPDATE search_rows SET vehicle_id = NULL WHERE kind = 'component'"],
    ['another vehicle', "UPDATE search_rows SET vehicle_id = (SELECT max(id) FROM vehicles) WHERE kind = 'reading'"],
    [
      'a part that is none',
      "UPDATE search_rows SET ref_id = 'none' WHERE kind = 'part' AND id = (SELECT min(id) FROM search_rows WHERE kind = 'part')",
    ],
    ['rows that are gone', "DELETE FROM search_rows WHERE kind IN ('reading', 'part')"],
  ]
  it.each(spoilt)('%s that reads otherwise is mended', async (_name, sql) => {
    const book = busy()
    value(createVehicle(book.db, book.clock, book.actor, { name: 'Wren', systemVoltage_V: 12 }))
    const kept = rows(book)
    expect(book.db.$client.prepare(sql).run().changes).toBeGreaterThan(0)
    expect(await mendSearch(book.db)).toBeGreaterThan(0)
    expect(rows(book)).toEqual(kept)
    book.db.$client.exec("INSERT INTO search_index (search_index, rank) VALUES ('integrity-check', 1)")
    expect(await mendSearch(book.db)).toBe(0)
  })

  it('cut off after any slice the next run mends the rest; what is saved between two slices is found', async () => {
    const book = busy()
    const wren = value(createVehicle(book.db, book.clock, book.actor, { name: 'Wren', systemVoltage_V: 12 })).id
    value(append(book.db, book.clock, book.actor, { ...book.entry('2024-01-01', []), vehicleId: wren, title: 'Bought' }))
    const kept = rows(book)
    let slices = 0
    await mendSearch(book.db, async () => void slices++)
    expect(slices).toBe(4)
    for (let cut = 1; cut <= slices; cut++) {
      book.db.$client.exec("UPDATE search_rows SET title = 'wrong'")
      let left = cut
      const killed = mendSearch(book.db, async () => {
        if (--left === 0) throw new Error('killed')
      })
      await expect(killed).rejects.toThrow('killed')
      await mendSearch(book.db)
      expect(rows(book), `cut off after ${cut}`).toEqual(kept)
    }
    book.db.$client.exec("UPDATE search_rows SET title = 'wrong'")
    await mendSearch(book.db, async () => {
      log(book, '2024-06-01', `Saved meanwhile`, [{ kind: 'noted', text: 'no' }])
    })
    expect(find(book, 'meanwhile', { kind: 'entry' }).count).toBe(slices)
    expect(await mendSearch(book.db)).toBe(0)
  })

  it('what is missing after an upgrade is made at the next start, and nothing on the start after', () => {
    const book = busy()
    const kept = rows(book)
    book.db.$client.exec('DELETE FROM search_rows')
    expect(fillSearch(book.db)).toBe(kept.length)
    expect(rows(book)).toEqual(kept)
    expect(fillSearch(book.db)).toBe(0)
  })
})

describe('B24: words, whatever they are', () => {
  it('are parted by spaces; what holds no letter or figure seeks nothing; twelve of them at most', () => {
    expect(wordsOf('  a "b*  - 10-32 ( ').words).toEqual(['a', '"b*', '10-32'])
    expect(wordsOf('\u0000a\u0000b').words).toEqual(['ab'])
    expect(wordsOf('x '.repeat(1000))).toMatchObject({ words: Array.from({ length: 12 }, () => 'x'), shortened: true })
  })

  it('never throw', () => {
    const book = openBook()
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary', maxLength: 300 }),
        fc.constantFrom<SearchKind | undefined>(undefined, 'part', 'entry'),
        (asked, kind) => {
          expect(search(book.db, book.actor, { asked, kind }).count).toBeGreaterThanOrEqual(0)
          componentsCalled(book.db, book.actor, asked)
        },
      ),
      { numRuns: 1000 },
    )
  })

  it('a name made of letters and figures is found by itself, whatever else it holds', () => {
    const book = openBook()
    const word = fc.stringMatching(/^[a-z0-9][a-z0-9 .,/"'*()x-]{0,30}$/)
    fc.assert(
      fc.property(word, (name) => {
        const made = value(createPart(book.db, book.clock, book.actor, { kind: 'splice', name: `q ${name}`, ratings: {} }))
        const all = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10].flatMap((page) => find(book, `q ${name}`, { page }).hits.map((hit) => hit.id))
        expect(all).toContain(made.id)
      }),
      { numRuns: 60 },
    )
  })
})
