/** The list of contents of a backup: what is told of it is read off its first line, and whatever is wrong further down is found. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, expect, test } from 'vitest'
import { listBackups, makeBackup, verifyBackup } from '../../server/records/backup.ts'
import { ContentsFault, headOf, type PhotoFile, photosIn, photosReadable, writeContents } from '../../server/records/backup-contents.ts'
import { closeDatabase } from '../../server/records/database.ts'
import { type Files, realFiles } from '../../server/records/files.ts'
import { bookOnDisk } from './backup-book.ts'

let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'loombook-contents-'))
})
afterEach(() => rmSync(folder, { recursive: true }))

const hash = (n: number) => n.toString(16).padStart(64, '0')
const photo = (n: number): PhotoFile => ({ name: `photos/00/00/${hash(n)}.jpg`, bytes: n, sha256: hash(n) })
const head = {
  made_at: '2026-11-27T03:00:00.000Z',
  schema_version: 2,
  database: { name: 'loombook.sqlite' as const, bytes: 4096, sha256: hash(0) },
  rows: { entries: 1 },
  missing: [],
}
const path = () => join(folder, 'manifest.json')
const write = (count: number) =>
  writeContents(folder, { head, photos: Array.from({ length: count }, (_, n) => photo(n + 1)), files: realFiles })
const all = async () => {
  const found: PhotoFile[] = []
  for await (const one of photosIn(folder, realFiles)) found.push(one)
  return found
}

test.each([0, 1, 2, 999, 1000, 1001, 2000])(
  'what is written of %i photos is one object of JSON, and is read back photo by photo',
  async (count) => {
    const written = await write(count)
    // 1 + 2 + … + n
    expect(written.totals).toEqual({ photos: count, bytes: (count * (count + 1)) / 2 })
    const photos = Array.from({ length: count }, (_, n) => photo(n + 1))
    expect(JSON.parse(readFileSync(path(), 'utf8'))).toEqual({ ...head, totals: written.totals, photos })
    expect(await headOf(folder, realFiles)).toEqual(written)
    expect(await all()).toEqual(photos)
  },
)

test('what it says as a whole is told without the rest being read', async () => {
  await write(100_000)
  let lines = 0
  const counting: Files = {
    ...realFiles,
    read: () => Promise.reject(new Error('read whole')),
    async lines(of) {
      const from = await realFiles.lines(of)
      return (async function* () {
        for await (const line of from) {
          lines++
          yield line
        }
      })()
    },
  }
  expect((await headOf(folder, counting))?.totals.photos).toBe(100_000)
  expect(lines).toBe(1)
})

test('one of before, a single object however it is laid out and without totals, says the same', async () => {
  for (const space of [undefined, 1]) {
    writeFileSync(path(), JSON.stringify({ ...head, photos: [photo(3), photo(4)] }, null, space))
    expect(await headOf(folder, realFiles)).toEqual({ ...head, totals: { photos: 2, bytes: 7 } })
    expect(await all()).toEqual([photo(3), photo(4)])
  }
})

test.each([
  ['cut off in the middle of a line', (text: string) => text.slice(0, -100), 'Line 3 does not read'],
  ['cut off behind a line', (text: string) => text.slice(0, text.lastIndexOf(']}')), 'Its end is missing'],
  ['with something behind its end', (text: string) => `${text}more\n`, 'Something follows its end'],
  ['with a name that leads elsewhere', (text: string) => text.replace('photos/00/00/', '../../'), 'Line 2 does not read'],
])('one %s is found to be so, and what can be read of it is still read', async (_, change, says) => {
  await write(2)
  writeFileSync(path(), change(readFileSync(path(), 'utf8')))
  await expect(all()).rejects.toThrow(ContentsFault)
  await expect(all()).rejects.toThrow(says)
  const read: string[] = []
  for await (const { sha256 } of photosReadable(folder, realFiles)) read.push(sha256)
  expect(read).toEqual([hash(1), hash(2)].slice(0, says.startsWith('Line') ? Number(says[5]) - 2 : 2))
})

test('one that is not there, or is none, is told apart from one that is', async () => {
  expect(await headOf(folder, realFiles)).toBe(null)
  await expect(all()).rejects.toThrow('It is not there.')
  for (const text of ['', '\n', 'no JSON', '{"photos":[', '[]']) {
    writeFileSync(path(), text)
    expect(await headOf(folder, realFiles), text).toBe(null)
    await expect(all(), text).rejects.toThrow(ContentsFault)
  }
})

test('a line taken out of a backup’s list, and a list that is cut off, are faults of the backup, which is still listed', async () => {
  const one = bookOnDisk()
  try {
    const made = await makeBackup(one)
    const list = join(made.folder, 'manifest.json')
    const lines = readFileSync(list, 'utf8').split('\n')
    writeFileSync(list, lines.filter((_, at) => at !== 1).join('\n'))
    expect(await verifyBackup(made.folder)).toEqual(['Its list of contents does not name all the photos it counts.'])
    writeFileSync(list, lines.slice(0, -2).join('\n'))
    expect(await verifyBackup(made.folder)).toEqual([expect.stringContaining('cannot be read. Its end is missing.')])
    expect((await listBackups(one.folder)).map(({ name }) => name)).toEqual([made.name])
  } finally {
    closeDatabase(one.db)
    rmSync(one.data, { recursive: true })
  }
})
