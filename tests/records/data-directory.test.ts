import { chmodSync, existsSync, mkdtempSync, readdirSync, rmSync, statfsSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { DirectoryFault, takeDirectory } from '../../server/records/data-directory.ts'
import { networkFileSystem } from '../../server/records/file-system.ts'

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'loombook-directory-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('R14: a data directory on another machine', () => {
  // The numbers: Linux man-pages 6, statfs(2), "File system type constants".
  const types: readonly (readonly [string, number])[] = [
    ['NFS', 0x6969],
    ['SMB', 0x517b],
    ['CIFS', 0xff534d42],
    ['SMB2', 0xfe534d42],
    ['9p', 0x01021997],
    ['FUSE', 0x65735546],
    ['Ceph', 0x00c36400],
    // As a system with 32-bit words tells it.
    ['CIFS', 0xff534d42 | 0],
    ['SMB2', 0xfe534d42 | 0],
  ]

  test.each(types)('%s (%i) is refused with the reason, before anything is written', async (name, type) => {
    const data = join(folder, `on-${name}-${type}`)
    const taken = takeDirectory(data, { statfs: async () => ({ type }) })
    await expect(taken).rejects.toThrow(DirectoryFault)
    await expect(taken).rejects.toThrow(`network file system (${name})`)
    expect(readdirSync(data)).toEqual([])
  })

  test.each(types)('%s (%i) is taken where the owner says so, with a warning at each start', async (name, type) => {
    const data = join(folder, `allowed-${name}-${type}`)
    for (let start = 0; start < 2; start++) {
      const taken = await takeDirectory(data, { statfs: async () => ({ type }), allowNetworkFileSystem: true })
      expect(taken.warning).toContain(name)
      taken.release()
    }
  })

  // ext4 0xef53, xfs 0x58465342, btrfs 0x9123683e, tmpfs 0x01021994, overlayfs 0x794c7630, zfs 0x2fc12fc1: the same page.
  test.each([0xef53, 0x58465342, 0x9123683e, 0x01021994, 0x794c7630, 0x2fc12fc1])('%i is of this machine', async (type) => {
    expect(await networkFileSystem('/', async () => ({ type }))).toBeNull()
  })

  test('the disk that these tests run on is asked too', async () => {
    expect(await networkFileSystem(folder)).toBe(statfsSync(folder).type === 0x01021997 ? '9p' : null)
  })
})

describe('a data directory that cannot be used says why, and as whom it runs', () => {
  test('where a file stands in its place', async () => {
    const data = join(folder, 'a-file')
    writeFileSync(data, '')
    await expect(takeDirectory(data)).rejects.toThrow(/cannot be made: .*runs as user \d+, group \d+/)
  })

  test.skipIf(process.getuid?.() === 0)('where it may not be written', async () => {
    const data = mkdtempSync(join(folder, 'shut-'))
    chmodSync(data, 0o500)
    await expect(takeDirectory(data)).rejects.toThrow(/cannot be written: .*runs as user \d+, group \d+/)
    chmodSync(data, 0o700)
  })

  test('it is made where it is not there yet, for its owner only', async () => {
    const data = join(folder, 'deep/er')
    const taken = await takeDirectory(data)
    expect(existsSync(join(data, 'instance.lock'))).toBe(true)
    taken.release()
  })
})
