import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { deflateRawSync } from 'node:zlib'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { archiveTables, columnsOf, fileOf, leftOut } from '../../server/records/archive-tables.ts'
import { archiveStream, writeArchive } from '../../server/records/archive-write.ts'
import { openDatabase } from '../../server/records/database.ts'
import { clock, forged, house, insert, into, type Lie, makeZip, out, readZip, small, tree } from './archive-forge.ts'
import { rowCounts } from './book.ts'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'archive-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

describe('what an archive says of itself', () => {
  test('every table of the database is either in it or left out with a reason, with every column', () => {
    const { $client } = openDatabase(':memory:')
    const names = $client
      .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name NOT LIKE 'search_index%'")
      .pluck()
      .all() as string[]
    expect([...archiveTables.map((table) => table.name), ...Object.keys(leftOut)].sort()).toEqual(names.sort())
    for (const table of archiveTables) {
      const columns = ($client.pragma(`table_info(${table.name})`) as { name: string }[]).map((column) => column.name)
      expect(['household_id', ...table.columns].sort(), table.name).toEqual(columns.sort())
    }
  })

  test('the README names every file, every table and what each of its columns is', async () => {
    const files = readZip(await out(small(folder), folder))
    const text = String(files.get('README.txt'))
    for (const table of archiveTables) {
      expect(text).toContain(`${fileOf(table.name)}: ${table.says}`)
      for (const [name, says] of columnsOf(table)) {
        expect(says.length, `${table.name}.${name}`).toBeGreaterThan(2)
        expect(text).toMatch(new RegExp(`^ {2}${name} +\\S`, 'm'))
      }
    }
    for (const name of files.keys()) expect(text).toContain((name.split('/')[0] as string).replace(/\.json$/, ''))
  })

  test('a vehicle’s own speaks of no table that it does not hold, and names no part, price or vehicle of others', async () => {
    const from = small(folder)
    const files = readZip(await out(from, folder, { vehicleId: from.vehicleId }))
    const text = [...files.values()].map((bytes) => bytes.toString('latin1')).join('\n')
    for (const word of ['Moss', 'A fuse of the other', 'SUPPLIER-SENTINEL', 'purchases', 'Drawer', 'Hook', '7654321', 'scrypt', '"Owner"'])
      expect(text, word).not.toContain(word)
    expect(text).toContain('10 A fuse')
    expect(String(files.get('csv/parts.csv')).split('\r\n')).toHaveLength(4)
  })

  test('nothing that opens the door is in it: hashes of passwords, sessions, feeds and tokens', async () => {
    const from = small(folder)
    const { householdId, personId } = from.actor
    const sentinels = ['scrypt$sentinel', 'e'.repeat(64), 'f'.repeat(64), 'form-secret-'.repeat(4)]
    from.db.$client.prepare('UPDATE people SET password_hash = ?').run(sentinels[0])
    const ids = { household_id: householdId, person_id: personId }
    insert(from.db, 'sessions', { token_hash: sentinels[1], ...ids, form_secret: sentinels[3], started_at: 'x', expires_at: 'x' })
    insert(from.db, 'feeds', { token_hash: sentinels[2], household_id: householdId, kind: 'due', recorded_at: 'x', recorded_by: personId })
    for (const scope of [{}, { vehicleId: from.vehicleId, costs: true, names: true }]) {
      const text = [...readZip(await out(from, folder, scope)).values()].map((bytes) => bytes.toString('latin1')).join('\n')
      for (const word of [...sentinels, householdId, personId]) expect(text, word).not.toContain(word)
    }
  })

  const hasPython = spawnSync('python3', ['--version']).status === 0
  test.skipIf(!hasPython)(
    'Python’s zipfile, json and csv read it: whole, and with exact figures (skipped where there is no python3)',
    async () => {
      const path = join(folder, 'a.zip')
      writeFileSync(path, await out(small(folder), folder))
      const script = `
import sys, zipfile, hashlib, json, csv, io
z = zipfile.ZipFile(sys.argv[1])
assert z.testzip() is None
m = json.loads(z.read("manifest.json"))
assert set(m["files"]) | {"manifest.json"} == set(z.namelist())
for n, f in m["files"].items():
    b = z.read(n)
    assert hashlib.sha256(b).hexdigest() == f["sha256"] and len(b) == f["bytes"], n
    if "rows" in f: assert len([json.loads(l) for l in b.decode().splitlines()]) == f["rows"], n
rows = list(csv.DictReader(io.StringIO(z.read("csv/entries.csv").decode(), newline="")))
bought = list(csv.DictReader(io.StringIO(z.read("csv/purchases.csv").decode(), newline="")))
print(json.dumps([sorted(r["cost_minor"] for r in rows), [bought[0]["count"], bought[0]["price_minor"]]]))
`
      const said = execFileSync('python3', ['-c', script, path], { encoding: 'utf8' })
      // Three standing entries of one vehicle and one of the other; one of them cost something.
      expect(JSON.parse(said)).toEqual([
        ['', '', '', '7654321'],
        ['2', '450'],
      ])
    },
  )
})

describe('made while it is read', () => {
  test('a reader that goes away ends it, and nothing is left', async () => {
    const from = small(folder)
    const { stream, manifest } = await archiveStream(from.db, clock, from.actor, { data: from.data })
    expect(readdirSync(join(from.data, 'tmp'))).toHaveLength(1)
    stream.destroy()
    await manifest.catch(() => {})
    await new Promise((done) => setTimeout(done, 50))
    expect(readdirSync(join(from.data, 'tmp'))).toEqual([])
  })

  test('broken off, it leaves no file where it was to be', async () => {
    const from = small(folder)
    const to = join(folder, 'out', 'a.zip')
    await expect(writeArchive(from.db, clock, from.actor, { data: from.data, to, signal: AbortSignal.abort() })).rejects.toThrow()
    await new Promise((done) => setTimeout(done, 50))
    expect([tree(join(folder, 'out')), readdirSync(join(from.data, 'tmp'))]).toEqual([[], []])
  })

  test('taking in that is broken off takes nothing in', async () => {
    const bytes = await out(small(folder), folder)
    const to = house(folder, 'Robin')
    const rows = rowCounts(to.db)
    const taken = await into(to, bytes, { signal: AbortSignal.abort() })
    expect(taken).toMatchObject({ ok: false, refusals: [{ code: 'archive-not-taken' }] })
    expect([rowCounts(to.db), tree(to.data)]).toEqual([rows, []])
  })
})

describe('zips that lie, further (B19)', () => {
  const one = (lie: Lie, bytes = Buffer.from('some words')) =>
    makeZip([
      ['manifest.json', Buffer.from('{}')],
      ['README.txt', bytes, lie],
    ])
  const nested = () =>
    forged(whole(), (files) => {
      files.set('photos/ab/cd/inner.zip', makeZip([['README.txt', Buffer.from('x')]]))
    })
  const whole = () => makeZip([['README.txt', Buffer.from('x')]])
  const cases: readonly (readonly [string, () => Buffer, RegExp])[] = [
    ['a wrong checksum', () => one({ crc: 1 }), /README\.txt.*checksum/],
    ['a wrong checksum of a file that is not packed', () => one({ crc: 1, method: 0, packed: Buffer.from('some words') }), /checksum/],
    ['a larger size than it is', () => one({ size: 500 }), /damaged/],
    ['a smaller size than it is', () => one({ size: 2 }), /damaged/],
    ['another name at the file than in the directory', () => one({ localName: 'READYE.txt' }), /called otherwise/],
    ['a million files', () => makeZip([['README.txt', Buffer.from('x')]], { entries: 65_535 }), /./],
    [
      'a file whose bytes are another’s head',
      () =>
        makeZip(
          [
            ['README.txt', Buffer.from('ab')],
            ['manifest.json', Buffer.from('{}')],
          ].map(
            ([name, bytes], n) =>
              [name as string, bytes as Buffer, n === 0 ? { packedSize: deflateRawSync(Buffer.from('ab')).length + 10 } : {}] as const,
          ),
        ),
      /over one another|damaged/,
    ],
    ['a zip in it', nested, /does not belong/],
    ['a hundred megabytes of zeros', () => one({}, Buffer.alloc(100_000_000)), /far more than it is/],
    [
      'a photo that no record names',
      () => forged(whole(), (files) => files.set(`photos/ab/cd/${'ab'.repeat(32)}.png`, Buffer.from('x'))),
      /no record names/,
    ],
    ['a folder', () => makeZip([['records/', Buffer.alloc(0)]]), /does not belong/],
    ['the end cut off', () => one({}).subarray(0, -30), /not a whole zip/],
    ['nothing at all', () => Buffer.alloc(0), /not a whole zip/],
  ]
  test.each(cases)('%s', async (_, make, says) => {
    const to = house(folder, 'Robin')
    const rows = rowCounts(to.db)
    const bytes = make()
    writeFileSync(join(folder, 'sent.zip'), bytes)
    const before = tree(folder).sort()
    const taken = await into(to, bytes)
    expect(taken.ok ? 'taken in' : taken.refusals[0]?.sentence).toMatch(says)
    expect([rowCounts(to.db), tree(to.data), tree(folder).sort()]).toEqual([rows, [], before])
  })

  test('a million entries in a ZIP64 directory are refused before one is looked at', async () => {
    const plain = makeZip([['README.txt', Buffer.from('x')]])
    const end = plain.length - 22
    const record = Buffer.alloc(56)
    record.writeUInt32LE(0x06064b50, 0)
    record.writeBigUInt64LE(44n, 4)
    record.writeBigUInt64LE(1_000_000n, 24)
    record.writeBigUInt64LE(1_000_000n, 32)
    record.writeBigUInt64LE(BigInt(plain.readUInt32LE(end + 12)), 40)
    record.writeBigUInt64LE(BigInt(plain.readUInt32LE(end + 16)), 48)
    const locator = Buffer.alloc(20)
    locator.writeUInt32LE(0x07064b50, 0)
    locator.writeBigUInt64LE(BigInt(end), 8)
    locator.writeUInt32LE(1, 16)
    const taken = await into(house(folder, 'Robin'), Buffer.concat([plain.subarray(0, end), record, locator, plain.subarray(end)]))
    expect(taken.ok ? '' : taken.refusals[0]?.sentence).toMatch(/1000000 files/)
  })
})
