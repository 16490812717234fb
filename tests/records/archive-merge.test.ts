/** Past 200 lines: one list of what an archive may say that is not so, or that meets what is here. Taking in beside what is here already, and records that do not hang together. */
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import type { Actor } from '../../server/records/contract.ts'
import { wrongRows } from '../../server/records/digests.ts'
import { entriesOf } from '../../server/records/journal.ts'
import { createPart, partOf, revisePart } from '../../server/records/parts.ts'
import { photoPath } from '../../server/records/photo-path.ts'
import { reportOn } from '../../server/records/projection.ts'
import { search } from '../../server/records/search.ts'
import { clock, forged, forgedLines, type House, house, into, out, readZip, type Small, small, tree } from './archive-forge.ts'
import { household, rowCounts, value } from './book.ts'

let folder: string
let from: Small
let whole: Buffer
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'archive-'))
  from = small(folder)
  whole = await out(from, folder)
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

const tables = (bytes: Buffer) =>
  Object.fromEntries([...readZip(bytes)].filter(([name]) => name.startsWith('records/')).map(([name, text]) => [name, String(text)]))

/** Refused in words that match, with nothing stored and no file left. */
async function refusedWith(bytes: Buffer, says: RegExp, to: House = house(folder, 'Robin')): Promise<void> {
  const [rows, files] = [rowCounts(to.db), tree(to.data)]
  const taken = await into(to, bytes)
  expect(taken.ok ? 'taken in' : taken.refusals[0]?.sentence).toMatch(says)
  if (!taken.ok) expect(taken.refusals[0]).toMatchObject({ code: 'archive-not-taken', status: 422 })
  expect([rowCounts(to.db), tree(to.data)]).toEqual([rows, files])
}

describe('out and in again, small (R19)', () => {
  test('every table comes back byte for byte, and what is found and judged with it', async () => {
    const to = house(folder, 'Owner')
    expect(value(await into(to, whole))).toMatchObject({ same: 0, asCopy: false, photos: 1, missingPhotos: 0 })
    expect(tables(await out(to, folder))).toEqual(tables(whole))
    for (const asked of ['Contacts', 'Lamp', '10 A fuse'])
      expect(search(to.db, to.actor, { asked }).count, asked).toBe(search(from.db, from.actor, { asked }).count)
    expect(search(to.db, to.actor, { asked: 'Contacts' }).count).toBe(1)
    expect(reportOn(to.db, to.actor, from.vehicleId).report).toEqual(reportOn(from.db, from.actor, from.vehicleId).report)
  })

  test('what came in beside other records counts as sound, row by row (R6)', async () => {
    const to = small(folder)
    expect(wrongRows(to.db.$client)).toEqual([])
    value(await into(to, whole))
    expect(wrongRows(to.db.$client)).toEqual([])
  })

  test('the revision recorded last stays the latest, also where the clock had stepped back', async () => {
    // Another process whose clock is behind gives ids that sort before those that are there.
    const id = from.db.$client.prepare('SELECT max(id) FROM part_revisions WHERE part_id = ?').pluck().get(from.fuse) as string
    value(revisePart(from.db, fixedClock('2026-11-26T12:00:00Z'), from.actor, from.fuse, { name: 'Revised', ratings: { rated_A: 15 } }))
    const client = from.db.$client
    client.exec('DROP TRIGGER part_revisions_no_update')
    client
      .prepare("UPDATE part_revisions SET id = '00000000-0000-7000-8000-000000000000' WHERE part_id = ? AND name = 'Revised'")
      .run(from.fuse)
    expect(partOf(from.db, from.actor, from.fuse)?.name).toBe('Revised')
    const to = house(folder, 'Robin')
    value(await into(to, await out(from, folder)))
    expect(partOf(to.db, to.actor, from.fuse)?.name).toBe('Revised')
    expect(id > '00000000-0000-7000-8000-000000000000').toBe(true)
  })
})

describe('into a household that holds some of it', () => {
  test('what has been used up, captioned or trashed since is left as it is here, and nothing comes twice', async () => {
    from.db.$client.exec("UPDATE leftovers SET used_at = '2026-11-20T08:00:00.000Z'")
    from.db.$client.exec("UPDATE photos SET caption = 'The lamp', trashed_at = '2026-11-20T08:00:00.000Z'")
    const rows = rowCounts(from.db)
    expect(value(await into(from, whole))).toMatchObject({ added: {}, asCopy: false })
    expect(rowCounts(from.db)).toEqual(rows)
    expect(from.db.$client.prepare('SELECT caption FROM photos').pluck().get()).toBe('The lamp')
    expect(from.db.$client.prepare('SELECT used_at FROM leftovers').pluck().get()).not.toBeNull()
  })

  test('what was recorded after the archive stays, and what the archive has besides comes in', async () => {
    const to = house(folder, 'Owner')
    value(await into(to, whole))
    value(createPart(from.db, clock, from.actor, { kind: 'fuse', name: 'Bought since', ratings: { rated_A: 7.5 } }))
    value(createPart(to.db, clock, to.actor, { kind: 'fuse', name: 'Made here', ratings: { rated_A: 3 } }))
    expect(value(await into(to, await out(from, folder)))).toMatchObject({ added: { parts: 1, part_revisions: 1 }, asCopy: false })
    expect(search(to.db, to.actor, { asked: 'Bought' }).count).toBe(1)
    expect(search(to.db, to.actor, { asked: 'Made here' }).count).toBe(1)
  })

  test('an older revision does not become the latest of a part that is here', async () => {
    const to = house(folder, 'Owner')
    value(await into(to, whole))
    value(revisePart(from.db, clock, from.actor, from.fuse, { name: 'Theirs', ratings: { rated_A: 15 } }))
    value(revisePart(to.db, clock, to.actor, from.fuse, { name: 'Ours, later', ratings: { rated_A: 20 } }))
    expect(value(await into(to, await out(from, folder))).asCopy).toBe(true)
    expect(partOf(to.db, to.actor, from.fuse)?.name).toBe('Ours, later')
  })

  test('a change hung on an entry that is here never joins it: the archive comes in as a copy', async () => {
    const bytes = forgedLines(whole, 'changes', (lines) => {
      const last = lines.filter((line) => line.kind === 'serviced').at(-1) as Record<string, unknown>
      lines.push({ ...last, id: last.id?.toString().replace(/.$/, (c) => (c === '0' ? '1' : '0')), position: 1 })
    })
    const before = from.db.$client.prepare('SELECT count(*) FROM changes WHERE entry_id = ?').pluck().get(from.broughtBack)
    expect(value(await into(from, bytes)).asCopy).toBe(true)
    expect(from.db.$client.prepare('SELECT count(*) FROM changes WHERE entry_id = ?').pluck().get(from.broughtBack)).toBe(before)
  })

  test('as a copy twice: the second time adds nothing, and the order of the journal is the same', async () => {
    const stranger: House = { db: from.db, actor: household(from.db, clock, 'Stranger'), data: from.data }
    expect(value(await into(stranger, whole))).toMatchObject({ asCopy: true, added: { vehicles: 2 } })
    const rows = rowCounts(from.db)
    expect(value(await into(stranger, whole))).toMatchObject({ asCopy: true, added: {} })
    expect(rowCounts(from.db)).toEqual(rows)
    const mine = vehiclesOf(stranger.actor)
    expect(mine.some((id) => id === from.vehicleId)).toBe(false)
    const told = (actor: Actor, id: string) => entriesOf(from.db, actor, id).map((entry) => `${entry.effectiveOn} ${entry.title}`)
    expect(told(stranger.actor, mine[0] as string)).toEqual(told(from.actor, from.vehicleId))
    const ids = from.db.$client
      .prepare('SELECT id FROM entries WHERE household_id = ? ORDER BY rowid')
      .pluck()
      .all(stranger.actor.householdId)
    expect([...ids].sort()).toEqual(ids)
    expect(
      from.db.$client
        .prepare('SELECT count(*) FROM entries e JOIN entries p ON p.id = e.place_id WHERE e.household_id <> p.household_id')
        .pluck()
        .get(),
    ).toBe(0)
  })

  test('a vehicle handed over within one installation, taken in twice', async () => {
    const bytes = await out(from, folder, { vehicleId: from.vehicleId })
    const stranger: House = { db: from.db, actor: household(from.db, clock, 'Stranger'), data: from.data }
    expect(value(await into(stranger, bytes)).added.vehicles).toBe(1)
    expect(value(await into(stranger, bytes)).added).toEqual({})
  })

  test('an archive that was refused leaves nothing in memory: the right one comes in after it', async () => {
    const to = house(folder, 'Robin')
    const bad = forgedLines(whole, 'changes', (lines) => {
      for (const line of lines) if (line.kind === 'serviced') line.payload = { component: 'nothing-here', text: 'x' }
    })
    await refusedWith(bad, /changes\.jsonl, line \d+.*does not apply/, to)
    value(await into(to, whole))
    expect(entriesOf(to.db, to.actor, from.vehicleId).map((entry) => entry.title)).toEqual(
      entriesOf(from.db, from.actor, from.vehicleId).map((entry) => entry.title),
    )
  })

  test('a form’s key that is taken here keeps nothing out', async () => {
    const keyed = forgedLines(whole, 'entries', (lines) => {
      for (const line of lines) if (line.id === from.broughtBack) line.once_key = 'taken'
    })
    const to = house(folder, 'Robin')
    const first = small(folder)
    first.db.$client.exec('DROP TRIGGER entries_no_update')
    first.db.$client.prepare("UPDATE entries SET once_key = 'taken' WHERE id = ?").run(first.broughtBack)
    value(await into(to, await out(first, folder)))
    expect(value(await into(to, keyed)).added.entries).toBeGreaterThan(0)
  })

  const vehiclesOf = (actor: Actor) =>
    from.db.$client.prepare('SELECT id FROM vehicles WHERE household_id = ? ORDER BY id').pluck().all(actor.householdId) as string[]
})

describe('records that do not hang together (B20): refused, with file and line', () => {
  const entry = (lines: Record<string, unknown>[], title: string) => lines.find((line) => line.title === title) as Record<string, unknown>
  const cases: readonly (readonly [string, string, (lines: Record<string, unknown>[]) => void, RegExp])[] = [
    [
      'an entry that corrects itself',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp fitted'), { corrects_id: entry(lines, 'Lamp fitted').id, correction: 'withdrawn' }),
      /entries\.jsonl, line \d+: .*circle/,
    ],
    [
      'two entries that correct each other',
      'entries',
      (lines) => {
        const [a, b] = [entry(lines, 'Lamp fitted'), entry(lines, 'Brought back later')]
        Object.assign(a, { corrects_id: b.id, correction: 'withdrawn' })
        Object.assign(b, { corrects_id: a.id, correction: 'withdrawn' })
      },
      /entries\.jsonl, line \d+: .*circle/,
    ],
    [
      'an entry with two versions in its place',
      'entries',
      (lines) => {
        const version = entry(lines, 'Lamp looked at again')
        lines.push({ ...version, id: String(version.id).replace(/.$/, (c) => (c === '0' ? '1' : '0')) })
      },
      /entries\.jsonl.*twice/,
    ],
    [
      'a correction of another vehicle’s entry',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp looked at again'), { vehicle_id: entry(lines, 'Fuse fitted').vehicle_id }),
      /\.jsonl, line \d+: .*vehicle/,
    ],
    [
      'a place that is not that of the first version',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp looked at again'), { place_id: entry(lines, 'Lamp fitted').id }),
      /entries\.jsonl, line \d+: .*place_id/,
    ],
    [
      'a correction that does not say what it corrects',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp looked at again'), { corrects_id: null }),
      /entries\.jsonl, line \d+: .*corrects/,
    ],
    [
      'a day that no calendar has',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp fitted'), { effective_on: '2024-02-30' }),
      /entries\.jsonl, line 1: effective_on/,
    ],
    [
      'a day that has not come',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp fitted'), { effective_on: '2031-01-01' }),
      /entries\.jsonl, line 1: .*not come/,
    ],
    [
      'a price of a day that no calendar has',
      'purchases',
      (lines) => Object.assign(lines[0] as object, { bought_on: '2023-02-29' }),
      /line 1: bought_on/,
    ],
    [
      'findings that are none',
      'entries',
      (lines) => Object.assign(entry(lines, 'Lamp fitted'), { shown: { findings: 1 } }),
      /entries\.jsonl, line 1: shown/,
    ],
    [
      'a finding without a figure’s unit',
      'entries',
      (lines) => {
        const shown = entry(lines, 'Lamp fitted').shown as { findings: Record<string, unknown>[]; appeared: unknown[] }
        shown.appeared.push({ rule: 'fuse-load' })
      },
      /entries\.jsonl, line 1: shown/,
    ],
    ['a part of which nothing is known', 'part_revisions', (lines) => lines.shift(), /parts\.jsonl, line 1/],
    [
      'a change of an entry of another vehicle',
      'changes',
      (lines) =>
        Object.assign(lines[0] as object, { vehicle_id: lines.find((line) => line.vehicle_id !== lines[0]?.vehicle_id)?.vehicle_id }),
      /changes\.jsonl, line 1: .*vehicle/,
    ],
    ['a payload of a later program', 'changes', (lines) => Object.assign(lines[0] as object, { v: 99 }), /changes\.jsonl, line 1: .*newer/],
    [
      'the same record twice',
      'stock_counts',
      (lines) => lines.push(lines[0] as Record<string, unknown>),
      /stock_counts\.jsonl, line 2: .*twice/,
    ],
    [
      'half a letter',
      'leftovers',
      (lines) => Object.assign(lines[0] as object, { place: '\ud83d' }),
      /leftovers\.jsonl, line 1: .*cannot be kept exactly/,
    ],
    [
      'a prototype, deep in a payload',
      'changes',
      (lines) => {
        const change = lines[0] as Record<string, unknown>
        Object.assign(change, { kind: 'described', payload: { vehicle: JSON.parse('{"name":"x","more":{"__proto__":{"a":1}}}') } })
      },
      /changes\.jsonl, line 1: .*__proto__/,
    ],
    [
      'five hundred deep',
      'changes',
      (lines) => {
        const deep = JSON.parse(`${'['.repeat(500)}${']'.repeat(500)}`)
        Object.assign(lines[0] as object, { kind: 'described', payload: { vehicle: { name: 'x', more: deep } } })
      },
      /changes\.jsonl, line 1: .*deep/,
    ],
    [
      'a photo of a kind that is not taken',
      'photos',
      (lines) => Object.assign(lines[0] as object, { type: 'text/html' }),
      /photos\.jsonl, line 1: type/,
    ],
    [
      'a photo of another size than its file',
      'photos',
      (lines) => Object.assign(lines[0] as object, { bytes: 5 }),
      /photos\.jsonl, line 1: /,
    ],
    [
      'a photo whose original is neither there nor said to be missing',
      'photos',
      (lines) => Object.assign(lines[0] as object, { sha256: 'ab'.repeat(32) }),
      /photos\.jsonl, line 1: /,
    ],
    ['a field more', 'parts', (lines) => Object.assign(lines[0] as object, { household_id: 'x' }), /parts\.jsonl, line 1: /],
  ]
  test.each(cases)('%s', async (_, table, change, says) => {
    await refusedWith(forgedLines(whole, table, change), says)
  })

  test.each(['stock_counts', 'purchases', 'leftovers'])('a part that is another household’s, in %s', async (table) => {
    const to: House = { db: from.db, actor: household(from.db, clock, 'Stranger'), data: from.data }
    const foreign = value(createPart(from.db, clock, from.actor, { kind: 'fuse', name: 'Not theirs', ratings: {} })).id
    await refusedWith(
      forgedLines(whole, table, (lines) => Object.assign(lines[0] as object, { part_id: foreign })),
      /line 1: .*not in the archive/,
      to,
    )
  })

  test('a photo on another household’s entry', async () => {
    const to: House = { db: from.db, actor: household(from.db, clock, 'Stranger'), data: from.data }
    const bytes = forgedLines(whole, 'photos', (lines) =>
      Object.assign(lines[0] as object, { entry_place_id: '01900000-0000-7000-8000-000000000000' }),
    )
    await refusedWith(bytes, /photos\.jsonl, line 1: .*not in the archive/, to)
  })

  test('more lines than the manifest says', async () => {
    const said = JSON.parse(String(readZip(whole).get('manifest.json'))) as { files: Record<string, { rows?: number }> }
    const parts = said.files['records/parts.jsonl'] as { rows?: number }
    const files = { ...said.files, 'records/parts.jsonl': { ...parts, rows: 99 } }
    await refusedWith(
      forged(whole, () => {}, { files }),
      /parts\.jsonl has 3 records; the manifest says 99/,
    )
  })
})

describe('originals', () => {
  test('one that was damaged on the disk, and one that is gone, are named, and the archive can still be taken in (R7)', async () => {
    const path = photoPath({
      data: from.data,
      sha256: String(from.db.$client.prepare('SELECT sha256 FROM photos').pluck().get()),
      type: 'image/png',
    })
    for (const spoil of [() => writeFileSync(path, 'damaged'), () => rmSync(path)]) {
      spoil()
      const bytes = await out(from, folder)
      const manifest = JSON.parse(String(readZip(bytes).get('manifest.json'))) as { missing: string[]; files: Record<string, unknown> }
      expect(manifest.missing).toEqual([expect.stringMatching(/^photos\/.*\.png$/)])
      expect(Object.keys(manifest.files).filter((name) => name.startsWith('photos/'))).toEqual([])
      const to = house(folder, 'Robin')
      expect(value(await into(to, bytes))).toMatchObject({ photos: 0, missingPhotos: 1 })
      expect(to.db.$client.prepare('SELECT count(*) FROM photos').pluck().get()).toBe(1)
    }
  })
})

describe('tables for a spreadsheet', () => {
  test('an entry brought back stands in them; one that was withdrawn or has a later version does not', async () => {
    const text = String(readZip(whole).get('csv/entries.csv'))
    expect(text).toContain('"Brought back later"')
    expect(text).toContain('"Lamp looked at again"')
    expect(text).not.toContain('"Taken back"')
    expect(text).not.toContain('"Lamp looked at"')
    expect(text).toContain(',7654321')
    expect(String(readZip(whole).get('csv/purchases.csv'))).toContain('"10 A fuse","2024-04-01",2,450,"SUPPLIER-SENTINEL"')
  })
})

test('nothing is left in the temporary folder, whatever came of it', async () => {
  value(await into(from, whole))
  expect(readdirSync(join(from.data, 'tmp'))).toEqual([])
})
