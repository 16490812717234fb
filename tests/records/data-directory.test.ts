import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  realpathSync,
  rmSync,
  statfsSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { DirectoryFault, takeDirectory } from '../../server/records/data-directory.ts'
import { placeOf } from '../../server/records/file-system.ts'

type Mount = readonly [point: string, type: string]

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'loombook-directory-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('R14: a data directory on another machine', () => {
  // The numbers: Linux man-pages 6, statfs(2), "File system type constants", and linux/magic.h.
  const types: readonly (readonly [string, number])[] = [
    ['NFS', 0x6969],
    ['SMB', 0x517b],
    ['CIFS', 0xff534d42],
    ['SMB2', 0xfe534d42],
    ['NCP', 0x564c],
    ['9p', 0x01021997],
    ['FUSE', 0x65735546],
    ['Ceph', 0x00c36400],
    ['AFS', 0x5346414f],
    ['AFS', 0x6b414653],
    ['Coda', 0x73757245],
    ['OCFS2', 0x7461636f],
    // linux/gfs2_ondisk.h; Linux, fs/vboxsf/super.c; and what GNU coreutils, src/stat.c, calls remote.
    ['GFS2', 0x01161970],
    ['a shared folder of VirtualBox', 0x786f4256],
    ['Lustre', 0x0bd00bd0],
    ['GPFS', 0x47504653],
    ['BeeGFS', 0x19830326],
    ['PanFS', 0xaad7aaea],
    ['a shared folder of VMware', 0xbacbacbc],
    ['a shared folder of Parallels', 0x7c7c6673],
    // As a system with 32-bit words tells it.
    ['CIFS', 0xff534d42 | 0],
    ['SMB2', 0xfe534d42 | 0],
  ]
  const onType = (type: number) => ({ platform: 'linux', statfs: async () => ({ type }), mounts: async () => '' })
  const LOCAL = 0xef53
  /** proc_pid_mountinfo(5): number, parent, device, root, mount point, options, optional fields, " - ", type, source, options. */
  const mounted = (...those: readonly Mount[]) => ({
    platform: 'linux',
    statfs: async () => ({ type: LOCAL }),
    mounts: async () =>
      [['/', 'ext4'] as const, ...those]
        .map(([point, type], n) => `${n + 22} 1 0:${n + 21} / ${point} rw,relatime shared:${n} - ${type} none rw\n`)
        .join(''),
  })

  test.each(types)('%s (%i) is refused with the reason, before anything is written', async (name, type) => {
    const data = join(folder, `on-${type}`, 'deeper')
    const taken = takeDirectory(data, { system: onType(type) })
    await expect(taken).rejects.toThrow(DirectoryFault)
    await expect(taken).rejects.toThrow(`network file system (${name})`)
    expect(existsSync(join(folder, `on-${type}`))).toBe(false)
  })

  test.each(types)('%s (%i) is taken where the owner says so, with a warning at each start', async (name, type) => {
    const data = join(folder, `allowed-${type}`)
    for (let start = 0; start < 2; start++) {
      const taken = await takeDirectory(data, { system: onType(type), allowNetworkFileSystem: true })
      expect(taken.warnings).toEqual([expect.stringContaining(`${data} lies on a network file system (${name})`)])
      taken.release()
    }
  })

  // ext4 0xef53, xfs 0x58465342, btrfs 0x9123683e, tmpfs 0x01021994, overlayfs 0x794c7630, zfs 0x2fc12fc1: the same page.
  test.each([0xef53, 0x58465342, 0x9123683e, 0x01021994, 0x794c7630, 0x2fc12fc1])('%i is of this machine', async (type) => {
    expect((await placeOf('/', onType(type))).over).toBeNull()
  })

  test('the disk that these tests run on is asked too', async () => {
    expect((await placeOf(folder)).over).toBe(statfsSync(folder).type === 0x01021997 ? '9p' : null)
  })

  test.each([
    ['nfs4', 'NFS'],
    ['smb3', 'SMB'],
    ['ncpfs', 'NCP'],
    ['9p', '9p'],
    ['virtiofs', 'virtiofs'],
    ['fuse.sshfs', 'FUSE'],
    ['fuseblk', 'FUSE'],
    ['lustre', 'Lustre'],
    ['gpfs', 'GPFS'],
    ['fhgfs', 'BeeGFS'],
    ['beegfs', 'BeeGFS'],
    ['ocfs2', 'OCFS2'],
    ['gfs2', 'GFS2'],
    ['vboxsf', 'a shared folder of VirtualBox'],
  ])('a mount of the type %s is known by its name, whatever number it tells', async (type, name) => {
    const data = mkdtempSync(join(folder, 'by-name-'))
    await expect(takeDirectory(data, { system: mounted([realpathSync(folder), type]) })).rejects.toThrow(`network file system (${name})`)
    expect(readdirSync(data)).toEqual([])
  })

  test('the innermost mount counts, of two at one point the later one, and a name that only begins alike is another', async () => {
    const at = realpathSync(folder)
    const over = async (path: string, ...those: readonly Mount[]) => (await placeOf(path, mounted(...those))).over
    expect(await over(at, ['/', 'nfs'])).toBe('NFS')
    expect(await over(at, ['/', 'nfs'], [at, 'ext4'])).toBeNull()
    expect(await over(at, [at, 'ext4'], ['/', 'nfs'])).toBeNull()
    expect(await over(at, [at, 'ext4'], [at, 'nfs'])).toBe('NFS')
    expect(await over(at, [at, 'nfs'], [at, 'ext4'])).toBeNull()
    expect(await over(at, [at.slice(0, -1), 'nfs'])).toBeNull()
    expect(await over(at, [`${at}/below`, 'nfs'])).toBeNull()
    // A space stands there as \040.
    const spaced = join(at, 'with space')
    mkdirSync(spaced)
    expect(await over(spaced, [`${at}/with\\040space`, 'nfs'])).toBe('NFS')
  })

  test.each(['loombook.sqlite', 'photos'])('%s by itself elsewhere, by a link or a mount of its own, counts too', async (name) => {
    const data = mkdtempSync(join(realpathSync(folder), 'parted-'))
    const away = mkdtempSync(join(realpathSync(folder), 'away-'))
    const says = `${join(data, name)} lies on a network file system (NFS)`
    // Where the link leads there is nothing yet; SQLite would make it.
    symlinkSync(join(away, 'not-there-yet'), join(data, name))
    await expect(takeDirectory(data, { system: mounted([away, 'nfs']) })).rejects.toThrow(says)
    rmSync(join(data, name))
    mkdirSync(join(data, name))
    await expect(takeDirectory(data, { system: mounted([join(data, name), 'nfs']) })).rejects.toThrow(says)
    expect(readdirSync(data)).toEqual([name])
    const taken = await takeDirectory(data, { system: mounted([join(data, name), 'nfs']), allowNetworkFileSystem: true })
    expect(taken.warnings).toEqual([`${says}: records may be lost there. Back up elsewhere.`])
    taken.release()
  })

  test('elsewhere than on Linux nothing is asked, and that is said at each start', async () => {
    const data = join(folder, 'no-linux')
    const taken = await takeDirectory(data, { system: { ...onType(0x6969), platform: 'darwin' } })
    expect(taken.warnings).toEqual([
      expect.stringContaining(`Whether ${data} lies on a network file system is not told by this kind of system`),
    ])
    taken.release()
    const onLinux = await takeDirectory(data, { system: onType(LOCAL) })
    expect(onLinux.warnings).toEqual([])
    onLinux.release()
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
    expect([data, join(data, '..')].map((one) => statSync(one).mode & 0o777)).toEqual([0o700, 0o700])
    taken.release()
  })

  test('a link that leads in a circle', async () => {
    const data = join(folder, 'circle')
    symlinkSync(data, data)
    await expect(takeDirectory(data)).rejects.toThrow(/cannot be made: ELOOP/)
  })

  // Node's own way of making all folders of a path never comes to an end there.
  test.skipIf(process.platform !== 'linux')('where the system lets nobody make a folder', async () => {
    await expect(takeDirectory('/proc/nothing/data')).rejects.toThrow(/cannot be made: ENOENT/)
  })
})
