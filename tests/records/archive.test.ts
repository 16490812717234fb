/** The archive: out whole, in whole or not at all. Zips that lie are made here, byte by byte. Long because it is one list of lies. */
import { execFileSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { crc32, deflateRawSync, inflateRawSync } from 'node:zlib'
import fc from 'fast-check'
import sharp from 'sharp'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { importArchive } from '../../server/records/archive-import.ts'
import { FORMAT } from '../../server/records/archive-tables.ts'
import { type ArchiveScope, sheet, writeArchive } from '../../server/records/archive-write.ts'
import { fixedClock } from '../../server/records/clock.ts'
import type { Actor } from '../../server/records/contract.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { loadDemo } from '../../server/records/demo/index.ts'
import { newId } from '../../server/records/ids.ts'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { createOwner, signIn } from '../../server/records/people.ts'
import { receive } from '../../server/records/photo-files.ts'
import { storePhoto } from '../../server/records/photos.ts'
import { reportOn } from '../../server/records/projection.ts'
import { countStock } from '../../server/records/stock.ts'
import { rowCounts, value } from './book.ts'

const clock = fixedClock('2026-11-26T12:00:00Z')
let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'archive-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

/** One archive of a full household, made once: what is forged is made from it. */
let whole: Buffer | null = null
async function base(): Promise<string> {
  whole ??= readFileSync(await out(await full()))
  const path = join(folder, `${newId(clock)}.zip`)
  writeFileSync(path, whole)
  return path
}

type House = { readonly db: Db; readonly actor: Actor; readonly data: string }

function house(name = 'Owner'): House {
  const db = openDatabase(':memory:')
  const data = mkdtempSync(join(folder, 'data-'))
  return { db, actor: value(createOwner(db, clock, { name, password: 'a long enough word' })), data }
}

/** The demonstration vehicles, with photos, prices, leftovers, counts, a correction and a withdrawal. */
async function full(): Promise<House & { readonly vehicles: readonly string[] }> {
  const own = house()
  const { db, actor, data } = own
  const { vehicleIds } = value(loadDemo(db, clock, actor))
  const [bramble] = vehicleIds as [string]
  const part = String(db.$client.prepare("SELECT id FROM parts WHERE kind = 'fuse' LIMIT 1").pluck().get())
  const noted = (text: string) =>
    value(append(db, clock, actor, { vehicleId: bramble, effectiveOn: '2026-05-01', title: text, changes: [{ kind: 'noted', text }] }))
  const first = noted('=cmd|calc')
  value(
    correct(db, clock, actor, first.id, {
      vehicleId: bramble,
      effectiveOn: '2026-05-02',
      title: 'Mended',
      changes: [{ kind: 'noted', text: 'Ünïcode ‘quotes’' }],
      cost_minor: 7654321,
    }),
  )
  value(withdraw(db, clock, actor, noted('Taken back').id))
  value(countStock(db, clock, actor, part, 3, 'Drawer'))
  const insert = (table: string, row: Record<string, unknown>) =>
    db.$client
      .prepare(
        `INSERT INTO ${table} (${Object.keys(row).join(', ')}) VALUES (${Object.keys(row)
          .map(() => '?')
          .join(', ')})`,
      )
      .run(...(Object.values(row) as (string | number | null)[]))
  const recorded = { household_id: actor.householdId, recorded_at: clock.now().toISOString(), recorded_by: actor.personId }
  insert('purchases', {
    id: newId(clock),
    part_id: part,
    bought_on: '2026-04-01',
    count: 2,
    price_minor: 450,
    supplier: 'SUPPLIER-SENTINEL',
    ...recorded,
  })
  insert('leftovers', { id: newId(clock), part_id: part, length_m: 1.5, place: 'Hook', used_at: null, ...recorded })
  insert('settings', { household_id: actor.householdId, name: 'currency', value: '€' })
  for (const [colour, place] of [
    ['#a00', { vehicleId: bramble }],
    ['#0a0', { entryId: first.id }],
    ['#00a', { partId: part }],
  ] as const) {
    const bytes = await sharp({ create: { width: 30, height: 20, channels: 3, background: colour } })
      .png()
      .toBuffer()
    const received = value(await receive(Readable.from([bytes]), { data, fileName: 'a.png' }))
    const photo = value(await storePhoto(db, clock, actor, { data, received, ...place }))
    if ('vehicleId' in place)
      insert('photo_marks', { id: newId(clock), photo_id: photo.id, component_key: 'r7', x: 0.25, y: 0.5, ...recorded })
  }
  return { ...own, vehicles: vehicleIds }
}

async function out(from: House, scope: ArchiveScope = {}): Promise<string> {
  const to = join(folder, `${newId(clock)}.zip`)
  await writeArchive(from.db, clock, from.actor, { ...scope, data: from.data, to })
  return to
}
const into = (house: House, path: string, more: object = {}) =>
  importArchive(house.db, clock, house.actor, { data: house.data, path, ...more })

/** Every file of a zip by name: a reader of our own, by the central directory (APPNOTE 4.3), for plain zips only. */
function read(path: string): Map<string, Buffer> {
  const bytes = readFileSync(path)
  const end = bytes.lastIndexOf(Buffer.from([0x50, 0x4b, 5, 6]))
  const found = new Map<string, Buffer>()
  let at = bytes.readUInt32LE(end + 16)
  for (let n = bytes.readUInt16LE(end + 10); n > 0; n--) {
    const [method, size] = [bytes.readUInt16LE(at + 10), bytes.readUInt32LE(at + 20)]
    const [names, extra, comment, local] = [
      bytes.readUInt16LE(at + 28),
      bytes.readUInt16LE(at + 30),
      bytes.readUInt16LE(at + 32),
      bytes.readUInt32LE(at + 42),
    ]
    const start = local + 30 + bytes.readUInt16LE(local + 26) + bytes.readUInt16LE(local + 28)
    const packed = bytes.subarray(start, start + size)
    found.set(bytes.toString('utf8', at + 46, at + 46 + names), method === 0 ? packed : inflateRawSync(packed))
    at += 46 + names + extra + comment
  }
  return found
}

type Lie = { flags?: number; mode?: number; crc?: number; size?: number; method?: number; packed?: Buffer; at?: number }
/** A zip of these files, with whatever each says that is not so. */
function zip(files: readonly (readonly [string, Buffer, Lie?])[]): string {
  const bodies: Buffer[] = []
  const heads: Buffer[] = []
  let offset = 0
  for (const [name, bytes, lie = {}] of files) {
    const packed = lie.packed ?? deflateRawSync(bytes)
    const label = Buffer.from(name)
    const common = Buffer.alloc(26)
    common.writeUInt16LE(20, 0)
    common.writeUInt16LE((lie.flags ?? 0) | 0x800, 2)
    common.writeUInt16LE(lie.method ?? 8, 4)
    common.writeUInt32LE(lie.crc ?? crc32(bytes), 10)
    common.writeUInt32LE(packed.length, 14)
    common.writeUInt32LE(lie.size ?? bytes.length, 18)
    common.writeUInt16LE(label.length, 22)
    const head = Buffer.alloc(46)
    head.writeUInt32LE(0x02014b50, 0)
    head.writeUInt16LE((3 << 8) | 20, 4)
    common.copy(head, 6)
    head.writeUInt32LE(((lie.mode ?? 0o100600) << 16) >>> 0, 38)
    head.writeUInt32LE(lie.at ?? offset, 42)
    heads.push(head, label)
    const local = Buffer.concat([Buffer.from([0x50, 0x4b, 3, 4]), common, label, packed])
    bodies.push(local)
    offset += local.length
  }
  const directory = Buffer.concat(heads)
  const end = Buffer.alloc(22)
  end.writeUInt32LE(0x06054b50, 0)
  end.writeUInt16LE(files.length, 8)
  end.writeUInt16LE(files.length, 10)
  end.writeUInt32LE(directory.length, 12)
  end.writeUInt32LE(offset, 16)
  const path = join(folder, `${newId(clock)}.zip`)
  writeFileSync(path, Buffer.concat([...bodies, directory, end]))
  return path
}

const sha = (bytes: Buffer) => createHash('sha256').update(bytes).digest('hex')
/** The archive with files changed, and a manifest that says so. */
function forged(from: string, change: (files: Map<string, Buffer>) => void): string {
  const files = read(from)
  files.delete('manifest.json')
  change(files)
  return zip([['manifest.json', manifestOf(files)], ...[...files].map(([name, bytes]) => [name, bytes] as const)])
}
function manifestOf(files: ReadonlyMap<string, Buffer>): Buffer {
  const rows = (name: string, bytes: Buffer) => (name.endsWith('.jsonl') ? { rows: bytes.toString('latin1').split('\n').length - 1 } : {})
  return Buffer.from(
    JSON.stringify({
      format: FORMAT,
      madeAt: '2026-06-01T12:00:00.000Z',
      schemaVersion: 3,
      scope: 'household',
      files: Object.fromEntries(
        [...files].map(([name, bytes]) => [name, { bytes: bytes.length, sha256: sha(bytes), ...rows(name, bytes) }]),
      ),
    }),
  )
}
const tree = (path: string): string[] =>
  existsSync(path)
    ? readdirSync(path, { recursive: true, withFileTypes: true }).flatMap((one) => (one.isFile() ? [join(one.parentPath, one.name)] : []))
    : []

describe('out and in again (R19)', () => {
  test('export, wipe, import, export: the same but for when it was made', async () => {
    const from = await full()
    const first = await out(from)
    const to = house()
    const taken = value(await into(to, first))
    expect(taken).toMatchObject({ same: 0, asCopy: false, photos: 3, missingPhotos: 0 })
    const [before, after] = [read(first), read(await out(to))]
    expect([...after.keys()].sort()).toEqual([...before.keys()].sort())
    for (const [name, bytes] of before) if (name !== 'manifest.json') expect(after.get(name)?.equals(bytes), name).toBe(true)
    const said = (files: Map<string, Buffer>) => ({ ...JSON.parse(String(files.get('manifest.json'))), madeAt: '' })
    expect(said(after)).toEqual(said(before))
    for (const id of from.vehicles) expect(reportOn(to.db, to.actor, id).report).toEqual(reportOn(from.db, from.actor, id).report)
  })
  test('into the household it came from: nothing new; a second time into another: nothing new', async () => {
    const from = await full()
    const first = await out(from)
    const rows = rowCounts(from.db)
    expect(value(await into(from, first))).toMatchObject({ added: {}, asCopy: false })
    expect(rowCounts(from.db)).toEqual(rows)
    const to = house('Robin')
    value(await into(to, first))
    const once = rowCounts(to.db)
    expect(value(await into(to, first))).toMatchObject({ added: {}, asCopy: false })
    expect(rowCounts(to.db)).toEqual(once)
  })
  test('somebody who is not known here keeps the name, and cannot sign in by it', async () => {
    const to = house('Robin')
    value(await into(to, await base()))
    expect(to.db.$client.prepare('SELECT count(*) FROM people').pluck().get()).toBe(2)
    expect((await signIn(to.db, clock, { name: 'Owner', password: 'a long enough word' })).ok).toBe(false)
  })
  test('beside another household that holds the same ids: as a copy under ids of its own', async () => {
    const from = await full()
    const first = await out(from)
    const stranger = value(createStranger(from.db))
    const taken = value(await importArchive(from.db, clock, stranger, { data: from.data, path: first }))
    expect(taken.asCopy).toBe(true)
    expect(taken.added.vehicles).toBe(3)
    const theirs = from.db.$client
      .prepare('SELECT id FROM vehicles WHERE household_id = ? ORDER BY id')
      .pluck()
      .all(stranger.householdId) as string[]
    expect(theirs.some((id) => from.vehicles.includes(id))).toBe(false)
    const verdicts = (actor: Actor, id: string) =>
      reportOn(from.db, actor, id).report.findings.map((one) => `${one.rule} ${one.component} ${one.verdict}`)
    for (const [at, id] of theirs.entries()) expect(verdicts(stranger, id)).toEqual(verdicts(from.actor, from.vehicles[at] as string))
  })
  test('another program opens it: every file is whole (Python’s zipfile)', async () => {
    const path = await base()
    const script =
      'import sys, zipfile, hashlib, json\nz = zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\nm = json.loads(z.read("manifest.json"))\nfor n, f in m["files"].items():\n    b = z.read(n)\n    assert hashlib.sha256(b).hexdigest() == f["sha256"] and len(b) == f["bytes"], n\nprint(len(z.namelist()))'
    let said: string
    try {
      said = execFileSync('python3', ['-c', script, path], { encoding: 'utf8' })
    } catch (fault) {
      if ((fault as { code?: string }).code === 'ENOENT') return
      throw fault
    }
    expect(Number(said)).toBe(read(path).size)
  })
})

function createStranger(db: Db) {
  const [householdId, personId] = [newId(clock), newId(clock)]
  db.$client.prepare('INSERT INTO households VALUES (?, ?)').run(householdId, 'x')
  db.$client
    .prepare('INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) VALUES (?, ?, ?, ?, ?, ?)')
    .run(personId, householdId, 'Stranger', 'stranger', 'scrypt$none', 'x')
  return { ok: true as const, value: { householdId, personId, name: 'Stranger' } }
}

describe('one vehicle handed over', () => {
  test('holds nothing of other vehicles, no counts, prices, suppliers, costs, names or passwords', async () => {
    const from = await full()
    const files = read(await out(from, { vehicleId: from.vehicles[0] as string }))
    const text = [...files]
      .filter(([name]) => !name.startsWith('photos/'))
      .map(([, bytes]) => bytes.toString('utf8'))
      .join('\n')
    for (const word of ['Wren', 'Anvil', 'SUPPLIER-SENTINEL', '"Owner"', 'scrypt', '7654321', from.actor.householdId, from.actor.personId])
      expect(text, word).not.toContain(word)
    expect([...files.keys()].filter((name) => /stock|purchases|leftovers|settings/.test(name))).toEqual([])
    expect([...files.keys()].filter((name) => name.startsWith('photos/'))).toHaveLength(2)
    const to = house('Robin')
    const taken = value(await into(to, await out(from, { vehicleId: from.vehicles[0] as string })))
    expect([taken.added.vehicles, taken.photos]).toEqual([1, 2])
    expect(reportOn(to.db, to.actor, from.vehicles[0] as string).report.findings.length).toBeGreaterThan(400)
  })
  test('costs and names go along where they are asked for', async () => {
    const from = await full()
    const files = read(await out(from, { vehicleId: from.vehicles[0] as string, costs: true, names: true }))
    expect(String(files.get('records/entries.jsonl'))).toContain('"cost_minor":7654321')
    expect(String(files.get('records/entries.jsonl'))).toContain('"recorded_by":"Owner"')
  })
  test('of everything, no password, session or id of the household', async () => {
    const from = await full()
    const text = [...read(await out(from)).values()].map((bytes) => bytes.toString('latin1')).join('\n')
    for (const word of ['scrypt$', from.actor.householdId, from.actor.personId]) expect(text, word).not.toContain(word)
  })
})

describe('tables for a spreadsheet (B28)', () => {
  test('what looks like a formula is marked as words, also behind blanks and quotes; numbers stay numbers', () => {
    const words = ['=1+1', '+1', '-1', '@a', '\t=1', '\r=1', ' =1', '"=1', "'=1", 'plain', 'a=1']
    const text = sheet(
      ['w', 'n'],
      words.map((w) => ({ w, n: -5.25 })),
    )
    expect(
      text.split('\r\n').filter((line) => line.endsWith(',-5.25')).length + text.split('\n').filter((line) => line === '').length,
    ).toBeGreaterThan(8)
    for (const word of words.slice(0, 9)) expect(text).toContain(`'${word.replaceAll('"', '""')}`)
    for (const word of ['plain', 'a=1']) expect(text).not.toContain(`'${word}`)
  })
})

describe('zips that lie (B19)', () => {
  const one = (name: string, lie: Lie = {}, bytes = Buffer.from('x')) =>
    zip([
      ['manifest.json', Buffer.from('{}')],
      [name, bytes, lie],
    ])
  const cases: readonly (readonly [string, () => string, RegExp])[] = [
    ['a way up', () => one('../../evil'), /./],
    ['a way up, inside a name that is known', () => one('records/../../evil.jsonl'), /./],
    ['an absolute path', () => one('/etc/passwd'), /./],
    ['a backslash', () => one('records\\..\\x.jsonl'), /./],
    ['a link', () => one('README.txt', { mode: 0o120777 }), /no plain file/],
    ['a name that is not known', () => one('evil.sh'), /does not belong/],
    ['a zip in it', () => one('photos/ab/cd/x.zip'), /does not belong/],
    [
      'a name twice',
      () =>
        zip([
          ['README.txt', Buffer.from('a')],
          ['README.txt', Buffer.from('b')],
        ]),
      /twice/,
    ],
    ['an encrypted file', () => one('README.txt', { flags: 1 }), /encrypted/],
    ['another packing', () => one('README.txt', { method: 12 }), /packed in a way/],
    ['a wrong size', () => one('README.txt', { size: 5 }), /./],
    ['ten megabytes of zeros in ten kilobytes', () => one('README.txt', {}, Buffer.alloc(10_000_000)), /far more than it is/],
    [
      'files over one another',
      () =>
        zip([
          ['README.txt', Buffer.alloc(100, 1)],
          ['manifest.json', Buffer.from('{}'), { at: 0 }],
        ]),
      /./,
    ],
    ['no manifest', () => zip([['README.txt', Buffer.from('x')]]), /no manifest/],
    ['a manifest that is none', () => zip([['manifest.json', Buffer.from('[]')]]), /not one that is known/],
    ['nothing', () => zip([]), /no manifest/],
  ]
  test.each(cases)('%s', async (_, make, says) => {
    const to = house()
    const rows = rowCounts(to.db)
    const path = make()
    const before = tree(folder).length
    const taken = await into(to, path)
    expect(taken.ok).toBe(false)
    if (!taken.ok) expect(taken.refusals[0]?.sentence).toMatch(says)
    expect([rowCounts(to.db), tree(to.data), tree(folder).length]).toEqual([rows, [], before])
  })
  test('more files than an archive may hold, and more bytes', async () => {
    const to = house()
    const many = zip(
      Array.from(
        { length: 30 },
        (_, n) =>
          [`csv/${'abcdefghijklmnopqrstuvwxyzabcdefgh'.slice(n % 26, (n % 26) + 1 + Math.floor(n / 26))}.csv`, Buffer.from('x')] as const,
      ),
    )
    const limits = { entries: 20, total_bytes: 1e9, file_bytes: 1e9, ratio: 400 }
    expect(await into(to, many, { limits })).toMatchObject({ ok: false })
    const large = zip([['README.txt', Buffer.from(Array.from({ length: 5000 }, (_, n) => n % 251))]])
    expect(await into(to, large, { limits: { ...limits, file_bytes: 1000 } })).toMatchObject({ ok: false })
    expect(await into(to, large, { limits: { ...limits, total_bytes: 1000 } })).toMatchObject({ ok: false })
  })
  test('a file that is not as the manifest says', async () => {
    const files = read(await base())
    const manifest = files.get('manifest.json') as Buffer
    files.delete('manifest.json')
    files.set('records/parts.jsonl', Buffer.from(`${String(files.get('records/parts.jsonl')).replace('fuse', 'fuze')}`))
    const taken = await into(house(), zip([['manifest.json', manifest], ...[...files].map(([name, bytes]) => [name, bytes] as const)]))
    expect(taken).toMatchObject({ ok: false, refusals: [{ code: 'archive-not-taken' }] })
  })
})

describe('records that are not right (B20): the line is named and nothing is taken in', () => {
  const change = (name: string, edit: (line: string) => string | Buffer) => async () => {
    return forged(await base(), (files) => {
      const lines = String(files.get(name)).split('\n')
      const edited = edit(lines[0] as string)
      const rest = Buffer.from(`\n${lines.slice(1).join('\n')}`)
      files.set(name, Buffer.concat([Buffer.isBuffer(edited) ? edited : Buffer.from(edited), rest]))
    })
  }
  const revisions = 'records/part_revisions.jsonl'
  const changes = 'records/changes.jsonl'
  test.each<[string, () => Promise<string>]>([
    ['not JSON', change(changes, () => '{')],
    ['bad UTF-8', change(changes, (line) => Buffer.concat([Buffer.from(line.slice(0, -1)), Buffer.from([0xff, 0xfe]), Buffer.from('}')]))],
    ['UTF-16', change(changes, (line) => Buffer.from(line, 'utf16le'))],
    ['NUL', change(changes, (line) => line.replace('{', '{\u0000'))],
    ['ten thousand deep', change(changes, () => `{"payload":${'['.repeat(10_000)}${']'.repeat(10_000)}}`)],
    ['a key twice', change(changes, (line) => line.replace('{', '{"kind":"noted",'))],
    ['__proto__', change(changes, (line) => line.replace('{"id"', '{"__proto__":{"x":1},"id"'))],
    ['a number past every float', change(changes, (line) => line.replace(/"position":\d+/, '"position":1e999'))],
    ['NaN', change(changes, (line) => line.replace(/"position":\d+/, '"position":NaN'))],
    ['minus nothing', change(changes, (line) => line.replace(/"position":\d+/, '"position":-0'))],
    ['a whole number that no float holds', change(changes, (line) => line.replace(/"position":\d+/, '"position":9007199254740993'))],
    ['a kind of change that is not known', change(changes, (line) => line.replace(/"kind":"[^"]+"/, '"kind":"exploded"'))],
    ['a payload that its kind does not take', change(changes, (line) => line.replace('"payload":{', '"payload":{"extra":1,'))],
    ['a rating of the wrong kind', change(revisions, (line) => line.replace(/"ratings":\{/, '"ratings":{"nothing_like_it":1,'))],
    [
      'a day that is none',
      change('records/entries.jsonl', (line) => line.replace(/"effective_on":"[^"]+"/, '"effective_on":"2026-13-45"')),
    ],
    ['an id that is none', change('records/vehicles.jsonl', (line) => line.replace(/"id":"[^"]+"/, '"id":"x"'))],
    [
      'a record that points to nothing',
      change('records/part_revisions.jsonl', (line) =>
        line.replace(/"part_id":"[^"]+"/, '"part_id":"01900000-0000-7000-8000-000000000000"'),
      ),
    ],
    ['a photo of another kind than it says', change('records/photos.jsonl', (line) => line.replace('image/png', 'image/jpeg'))],
  ])('%s', async (_, make) => {
    const path = await make()
    const to = house()
    const rows = rowCounts(to.db)
    const taken = await into(to, path)
    expect(taken).toMatchObject({ ok: false, refusals: [{ code: 'archive-not-taken', status: 422 }] })
    expect([rowCounts(to.db), tree(to.data)]).toEqual([rows, []])
    expect(({} as { x?: unknown }).x).toBeUndefined()
  })
  test('a journal that does not fold: the entry is named', async () => {
    const path = forged(await base(), (files) => {
      const lines = String(files.get(changes)).split('\n')
      files.set(changes, Buffer.from(lines.filter((line) => !line.includes('"kind":"fitted"')).join('\n')))
    })
    const to = house()
    const taken = await into(to, path)
    expect(taken.ok === false && taken.refusals[0]?.sentence).toMatch(/does not apply/)
    expect(tree(to.data)).toEqual([])
  })
})

describe('bytes changed at random (R24)', () => {
  test('two hundred times: no crash, nothing half taken, nothing written but in the data folder', async () => {
    const bytes = readFileSync(await base())
    const to = house()
    const rows = rowCounts(to.db)
    const outside = mkdtempSync(join(folder, 'outside-'))
    mkdirSync(join(folder, 'work'))
    const runs = Number(process.env.LOOMBOOK_FUZZ_IMPORTS ?? 200)
    const edits = fc.sample(fc.array(fc.tuple(fc.nat(bytes.length - 1), fc.nat(255)), { minLength: 1, maxLength: 8 }), {
      numRuns: runs,
      seed: 11,
    })
    let taken = 0
    for (const edit of edits) {
      const other = Buffer.from(bytes)
      for (const [at, byte] of edit) other[at] = byte
      if (edit.length === 8) other.fill(0, other.length - (edit[0]?.[1] ?? 0))
      const path = join(folder, 'work', 'f.zip')
      writeFileSync(path, other)
      const answer = await into(to, path)
      if (answer.ok) {
        // Where the change fell on nothing that counts, it is the archive: then the next ones find all of it here.
        taken++
        continue
      }
      if (taken === 0) expect([rowCounts(to.db), tree(to.data)]).toEqual([rows, []])
    }
    expect(tree(outside)).toEqual([])
    expect(to.db.$client.pragma('integrity_check', { simple: true })).toBe('ok')
    expect(to.db.$client.pragma('foreign_key_check')).toEqual([])
  }, 120_000)
})
