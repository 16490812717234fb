/** Photos as rows and files: each step of writing made to fail, and what is kept and dropped. */
import fs, { existsSync, lstatSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, utimesSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import sharp from 'sharp'
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { newId } from '../../server/records/ids.ts'
import { append } from '../../server/records/journal.ts'
import { type Disk, disk, receive, sweepTemporary } from '../../server/records/photo-files.ts'
import { photoPath } from '../../server/records/photo-path.ts'
import {
  attachPhotos,
  describePhoto,
  markPhoto,
  photosOf,
  purgeTrash,
  storePhoto,
  trashedBefore,
  trashPhoto,
} from '../../server/records/photos.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type Book, fit, household, openBook, value } from './book.ts'

let book: Book
let data: string
beforeEach(() => {
  book = openBook()
  data = mkdtempSync(join(tmpdir(), 'photos-'))
})
afterEach(() => rmSync(data, { recursive: true }))

const bytesOf = (colour: string) =>
  sharp({ create: { width: 40, height: 30, channels: 3, background: colour } })
    .png()
    .toBuffer()
const files = (folder: string): string[] =>
  existsSync(join(data, folder))
    ? readdirSync(join(data, folder), { recursive: true, withFileTypes: true }).flatMap((one) => (one.isFile() ? [one.name] : []))
    : []
const received = async (bytes: Buffer) => value(await receive(Readable.from([bytes]), { data, fileName: 'a.png' }))
const turned = (bytes: Buffer) => {
  bytes[bytes.length - 20] = (bytes[bytes.length - 20] as number) ^ 1
  return bytes
}
const store = async (colour: string, more: object = {}) =>
  storePhoto(book.db, book.clock, book.actor, { data, received: await received(await bytesOf(colour)), vehicleId: book.vehicleId, ...more })

describe('writing an original (R5)', () => {
  const steps = ['syncFile', 'makeFolder', 'link', 'replace', 'syncFolder', 'remove'] as const
  // Four folders are synced: the file's own, the one above it, photos/ and the one that holds it.
  const calls = [
    ['syncFile', 1],
    ['makeFolder', 1],
    ['link', 1],
    ['syncFolder', 1],
    ['syncFolder', 2],
    ['syncFolder', 3],
    ['syncFolder', 4],
    ['remove', 1],
  ] as const
  const failing = (step: (typeof steps)[number], at: number, code: string, more: { readonly forGood?: boolean } = {}): Disk => {
    let n = 0
    const wrap =
      (name: (typeof steps)[number]) =>
      async (...given: never[]) => {
        if (name === step && (++n === at || (more.forGood && n > at))) throw Object.assign(new Error(code), { code })
        await (disk[name] as (...args: never[]) => Promise<void>)(...given)
      }
    return Object.fromEntries(steps.map((name) => [name, wrap(name)])) as unknown as Disk
  }
  test('every step that a new original takes is among those made to fail', async () => {
    const taken: string[] = []
    const counting = Object.fromEntries(
      steps.map((name) => [
        name,
        async (...given: never[]) => {
          taken.push(name)
          await (disk[name] as (...args: never[]) => Promise<void>)(...given)
        },
      ]),
    ) as unknown as Disk
    expect((await store('#123', { disk: counting })).ok).toBe(true)
    expect(taken.map((name, at) => [name, taken.slice(0, at + 1).filter((one) => one === name).length])).toEqual(calls)
  })
  test.each(calls)('the %s from number %i on fails for good: five tries keep no row and nothing in tmp/', async (step, at) => {
    for (let n = 0; n < 5; n++) await expect(store('#123', { disk: failing(step, at, 'EIO', { forGood: true }) })).rejects.toThrow('EIO')
    expect([photosOf(book.db, book.actor, { vehicleId: book.vehicleId }), files('tmp')]).toEqual([[], []])
  })
  test('tmp/ that cannot be written refuses the file and leaves nothing', async () => {
    writeFileSync(join(data, 'tmp'), 'a file where a folder should be')
    await expect(received(await bytesOf('#123'))).rejects.toThrow(/EEXIST|ENOTDIR/)
    expect(photosOf(book.db, book.actor, { vehicleId: book.vehicleId })).toEqual([])
  })
  test.each([
    ['zeroed', (path: string) => writeFileSync(path, Buffer.alloc(200))],
    ['one bit turned', (path: string) => writeFileSync(path, turned(readFileSync(path)))],
    [
      'a link elsewhere',
      (path: string) => {
        rmSync(path)
        symlinkSync('/etc/hostname', path)
      },
    ],
  ])('R7: an original damaged since (%s) is whole again once the same photo is sent again', async (_, damage) => {
    const one = value(await store('#123'))
    const path = photoPath({ data, ...one })
    const bytes = readFileSync(path)
    damage(path)
    const again = value(await store('#123'))
    expect([again.id, files('tmp')]).toEqual([one.id, []])
    expect([lstatSync(path).isFile(), readFileSync(path).equals(bytes)]).toEqual([true, true])
  })
  test.each(calls.flatMap(([step, at]) => ['EIO', 'ENOSPC', 'EDQUOT'].map((code) => [step, at, code] as const)))(
    'the %s number %i fails with %s: no row, nothing in tmp/, and the next try keeps it',
    async (step, at, code) => {
      await expect(store('#123', { disk: failing(step, at, code) })).rejects.toThrow(code)
      expect([photosOf(book.db, book.actor, { vehicleId: book.vehicleId }), files('tmp')]).toEqual([[], []])
      expect((await store('#123')).ok).toBe(true)
      expect([photosOf(book.db, book.actor, { vehicleId: book.vehicleId }).length, files('photos').length, files('tmp')]).toEqual([
        1,
        1,
        [],
      ])
    },
  )
  test('a row that cannot be written leaves a file and no row: the file is whole under its own hash', async () => {
    book.db.$client.exec("CREATE TEMP TRIGGER full BEFORE INSERT ON photos BEGIN SELECT RAISE(ABORT, 'disk full'); END")
    await expect(store('#123')).rejects.toThrow('disk full')
    book.db.$client.exec('DROP TRIGGER full')
    expect([photosOf(book.db, book.actor, { vehicleId: book.vehicleId }), files('tmp')]).toEqual([[], []])
    expect((await store('#123')).ok).toBe(true)
    expect(files('photos')).toHaveLength(1)
  })
  test('a source that breaks off leaves nothing', async () => {
    const broken = new Readable({
      read() {
        this.push(Buffer.alloc(10))
        this.destroy(new Error('gone'))
      },
    })
    await expect(receive(broken, { data, fileName: 'a' })).rejects.toThrow('gone')
    expect(files('tmp')).toEqual([])
  })
  test('one that broke off before its file was there leaves nothing either', async () => {
    const { open } = fs
    const late = vi.spyOn(fs, 'open').mockImplementation(((...given: Parameters<typeof open>) => {
      setTimeout(() => open(...given), 20)
    }) as typeof open)
    const gone = new Readable({ read() {} }).on('error', () => {})
    gone.destroy(new Error('gone'))
    await expect(receive(gone, { data, fileName: 'a' })).rejects.toThrow()
    expect(late).toHaveBeenCalledOnce()
    late.mockRestore()
    await new Promise((resolve) => setTimeout(resolve, 50))
    expect(files('tmp')).toEqual([])
  })
  test('what is larger than is taken is dropped', async () => {
    const taken = await receive(Readable.from([Buffer.alloc(11)]), { data, fileName: 'a', most_bytes: 10 })
    expect(taken).toMatchObject({ ok: false, refusals: [{ code: 'too-large', status: 413 }] })
    expect(files('tmp')).toEqual([])
  })
  test('what a crash left for over an hour is swept, and nothing younger', async () => {
    const old = await received(Buffer.from('old'))
    await received(Buffer.from('young'))
    const now = new Date()
    utimesSync(old.path, now, new Date(now.getTime() - 3_700_000))
    expect([await sweepTemporary(data, now), files('tmp').length]).toEqual([1, 1])
  })
})

describe('photos sent before their entry', () => {
  test('are attached with it; another household’s, or another entry’s, are refused', async () => {
    const one = value(await store('#111'))
    const entry = value(append(book.db, book.clock, book.actor, book.entry('2026-05-01', [{ kind: 'noted', text: 'Looked' }])))
    const other = value(append(book.db, book.clock, book.actor, book.entry('2026-05-02', [{ kind: 'noted', text: 'Looked' }])))
    expect(attachPhotos(book.db, book.actor, { photoIds: [one.id], entryId: entry.id })).toEqual({ ok: true, value: { attached: 1 } })
    expect(photosOf(book.db, book.actor, { entryId: entry.id }).map((photo) => photo.id)).toEqual([one.id])
    expect(attachPhotos(book.db, book.actor, { photoIds: [one.id], entryId: other.id }).ok).toBe(false)
    const stranger = household(book.db, book.clock, 'Stranger')
    expect(attachPhotos(book.db, stranger, { photoIds: [one.id], entryId: entry.id }).ok).toBe(false)
    expect(attachPhotos(book.db, book.actor, { photoIds: ['nothing'], entryId: entry.id }).ok).toBe(false)
    expect(attachPhotos(book.db, book.actor, { photoIds: [one.id, one.id], entryId: entry.id })).toMatchObject({ value: { attached: 1 } })
  })
  test('one in the trash, or of another vehicle, is refused', async () => {
    const entry = value(append(book.db, book.clock, book.actor, book.entry('2026-05-01', [{ kind: 'noted', text: 'Looked' }])))
    const thrown = value(await store('#111'))
    trashPhoto(book.db, book.clock, book.actor, thrown.id)
    const other = value(createVehicle(book.db, book.clock, book.actor, { name: 'Fern', systemVoltage_V: 12 }))
    const theirs = value(await store('#222', { vehicleId: other.id }))
    for (const { id } of [thrown, theirs])
      expect(attachPhotos(book.db, book.actor, { photoIds: [id], entryId: entry.id })).toMatchObject({
        ok: false,
        refusals: [{ code: 'not-valid', field: 'photos' }],
      })
    expect(photosOf(book.db, book.actor, { entryId: entry.id })).toEqual([])
  })
})

describe('what a photo shows', () => {
  test('is a component that the vehicle has or had, on the row, in a caption and in a mark', async () => {
    value(append(book.db, book.clock, book.actor, book.entry('2026-05-01', [fit('f1', book.part.fuse5)])))
    const gone = [{ kind: 'removed' as const, component: 'f1', fate: 'bin' as const }]
    value(append(book.db, book.clock, book.actor, book.entry('2026-05-02', gone)))
    expect(await store('#111', { componentKey: 'ghost' })).toMatchObject({ ok: false, refusals: [{ status: 422, field: 'component' }] })
    expect([files('photos'), files('tmp')]).toEqual([[], []])
    const one = value(await store('#111', { componentKey: 'f1' }))
    expect(one.componentKey).toBe('f1')
    for (const componentKey of ['ghost', '__proto__'])
      expect([
        describePhoto(book.db, book.actor, one.id, { caption: '', componentKey }).ok,
        markPhoto(book.db, book.clock, book.actor, one.id, { componentKey, x: 0.5, y: 0.5 }).ok,
      ]).toEqual([false, false])
    expect(markPhoto(book.db, book.clock, book.actor, one.id, { componentKey: 'f1', x: 1, y: 0 }).ok).toBe(true)
    const paper = value(await store('#222', { vehicleId: undefined, partId: book.part.fuse5 }))
    expect(markPhoto(book.db, book.clock, book.actor, paper.id, { componentKey: 'f1', x: 1, y: 0 }).ok).toBe(false)
  })
})

describe('what goes for good', () => {
  const day = (on: string) => fixedClock(`${on}T12:00:00Z`)
  test('after thirty days in the trash and a later good backup; an original goes with its last row', async () => {
    const one = value(await store('#222'))
    const entry = value(append(book.db, book.clock, book.actor, book.entry('2026-05-01', [{ kind: 'noted', text: 'Looked' }])))
    const same = value(await store('#222', { entryId: entry.id }))
    expect([same.id === one.id, files('photos').length]).toEqual([false, 1])
    trashPhoto(book.db, day('2026-06-01'), book.actor, one.id)
    trashPhoto(book.db, day('2026-06-10'), book.actor, same.id)
    const purge = (on: string, lastBackupAt: string | null) => purgeTrash(book.db, day(on), { data, lastBackupAt })
    expect(await purge('2026-06-30', '2026-06-30T03:00:00Z')).toBe(0)
    expect(await purge('2026-07-05', null)).toBe(0)
    expect(await purge('2026-07-05', '2026-05-30T03:00:00Z')).toBe(0)
    expect([await purge('2026-07-05', '2026-07-05T03:00:00Z'), files('photos').length]).toEqual([1, 1])
    expect(files('thumbnails').length).toBeGreaterThan(0)
    expect([await purge('2026-07-15', '2026-07-15T03:00:00Z'), files('photos'), files('thumbnails')]).toEqual([1, [], []])
  })
  test('is found through the index of the trash, in every household, however many photos are kept', async () => {
    const one = value(await store('#222'))
    const elsewhere = household(book.db, book.clock, 'Ash').householdId
    trashPhoto(book.db, day('2026-06-01'), book.actor, one.id)
    const { $client } = book.db
    const columns = 'vehicle_id, sha256, type, bytes, file_name, caption, recorded_at, recorded_by'
    const copy = $client.prepare(`INSERT INTO photos (id, household_id, ${columns}, trashed_at)
      SELECT ?, ?, ${columns.replace('vehicle_id', 'NULL')}, ? FROM photos WHERE id = '${one.id}'`)
    for (let n = 0; n < 500; n++) copy.run(newId(book.clock), book.actor.householdId, null)
    const theirs = newId(book.clock)
    copy.run(theirs, elsewhere, '2026-06-02T00:00:00.000Z')
    copy.run(newId(book.clock), elsewhere, '2026-06-30T00:00:00.000Z')
    for (const analysed of [false, true]) {
      if (analysed) $client.exec('ANALYZE')
      const query = trashedBefore(book.db, '2026-06-15T00:00:00.000Z')
      expect(
        query
          .all()
          .map((row) => row.id)
          .sort(),
      ).toEqual([one.id, theirs].sort())
      const { sql, params } = query.toSQL()
      const plan = $client.prepare(`EXPLAIN QUERY PLAN ${sql}`).all(...params) as { detail: string }[]
      const steps = plan.map((step) => step.detail)
      // By a way given for each household and a bound on the day: https://sqlite.org/eqp.html
      expect(
        steps.some((step) => /^SEARCH photos USING INDEX photos_in_trash \(household_id=\? AND trashed_at<\?\)$/.test(step)),
        steps.join('; '),
      ).toBe(true)
      expect(steps.filter((step) => step.startsWith('SCAN photos'))).toEqual([])
    }
  })
  test('while the same photo is on its way in again, its original stays', async () => {
    const one = value(await store('#222'))
    trashPhoto(book.db, day('2026-06-01'), book.actor, one.id)
    let purged = 0
    // The purge comes between the file in its place and the row that names it.
    const syncFolder = async () => {
      purged += await purgeTrash(book.db, day('2026-07-15'), { data, lastBackupAt: '2026-07-15T03:00:00Z' })
    }
    const again = value(await store('#222', { disk: { ...disk, syncFolder } }))
    expect([purged, again.id === one.id, existsSync(photoPath({ data, ...again }))]).toEqual([1, false, true])
  })
})
