import { chmodSync, mkdtempSync, readdirSync, rmSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { backupPlaceFault, tryBackupPlace } from '../../server/records/backup-place.ts'

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'place-'))
  writeFileSync(join(folder, 'a-file'), '')
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const NONE = { fault: null, warning: null }
const failing = (code: string) => () => {
  throw Object.assign(new Error(`${code}: it does not`), { code })
}

test('a place that is not there yet: looking makes nothing, trying makes it and leaves nothing in it', () => {
  const place = join(folder, 'deep/er')
  expect([backupPlaceFault(place), readdirSync(folder)]).toEqual([null, ['a-file']])
  expect([tryBackupPlace(place), readdirSync(place), statSync(place).mode & 0o777]).toEqual([NONE, [], 0o700])
  expect([backupPlaceFault(place), tryBackupPlace(place)]).toEqual([null, NONE])
})

test('a link to a folder is one', () => {
  symlinkSync(mkdtempSync(join(folder, 'behind-')), join(folder, 'link'))
  expect([backupPlaceFault(join(folder, 'link')), tryBackupPlace(join(folder, 'link'))]).toEqual([null, NONE])
})

test('a file, and what is below one, is seen by looking already', () => {
  for (const place of [join(folder, 'a-file'), join(folder, 'a-file/deeper')]) {
    const says = `${place} cannot be used for backups: ${join(folder, 'a-file')} is a file.`
    expect(backupPlaceFault(place)).toBe(says)
    expect(tryBackupPlace(place)).toMatchObject({ warning: null, fault: expect.stringContaining(`${place} cannot be used for backups`) })
  }
})

test.skipIf(process.getuid?.() === 0)('a folder of somebody else’s: whose right is missing is said', () => {
  const place = mkdtempSync(join(folder, 'shut-'))
  chmodSync(place, 0o500)
  const says = /cannot be used for backups: EACCES.* Loombook runs as user \d+, group \d+/
  expect(backupPlaceFault(place)).toMatch(says)
  expect(tryBackupPlace(place).fault).toMatch(says)
  chmodSync(place, 0o700)
})

test.each(['EACCES', 'EPERM', 'EROFS'])('%s is a wrong setting, and says as whom it runs', (code) => {
  expect(tryBackupPlace('/b', failing(code))).toEqual({
    warning: null,
    fault: expect.stringMatching(new RegExp(`^/b cannot be used for backups: ${code}: it does not\\. Loombook runs as user`)),
  })
})
test.each(['ENOENT', 'ENOTDIR', 'ELOOP', 'ENAMETOOLONG'])('%s is a wrong setting', (code) => {
  expect(tryBackupPlace('/b', failing(code))).toEqual({ warning: null, fault: `/b cannot be used for backups: ${code}: it does not.` })
})
test.each(['ENOSPC', 'EDQUOT', 'EIO', 'ESTALE'])('%s is the disk’s affair: the journal opens, and it is said', (code) => {
  expect(tryBackupPlace('/b', failing(code))).toEqual({
    fault: null,
    warning: `Nothing can be written to the folder for backups, /b, at the moment: ${code}: it does not.`,
  })
})
