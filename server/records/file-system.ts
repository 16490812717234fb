/**
 * What a path lies on. A database shared over a network loses locks and so, one day, records. Only Linux is asked: elsewhere the numbers of
 * statfs mean other things (macOS) or nothing (Windows), and there is no list of mounts to read, so there it is the owner who has to know.
 */
import { readFile, readlink, realpath, statfs } from 'node:fs/promises'
import { dirname, resolve } from 'node:path'
import { nearestThere } from './folders.ts'

/** Types as statfs(2) tells them, by linux/magic.h and statfs(2) of Linux man-pages 6 unless the line names another source. */
const BY_TYPE: ReadonlyMap<number, string> = new Map([
  [0x6969, 'NFS'],
  [0x517b, 'SMB'],
  [0xff534d42, 'CIFS'],
  [0xfe534d42, 'SMB2'],
  [0x564c, 'NCP'],
  [0x01021997, '9p'],
  [0x65735546, 'FUSE'],
  [0x00c36400, 'Ceph'],
  [0x5346414f, 'AFS'],
  [0x6b414653, 'AFS'],
  [0x73757245, 'Coda'],
  // A disk that several machines write to: locks of one are known to the others, the memory that SQLite shares is not.
  [0x7461636f, 'OCFS2'],
  // linux/gfs2_ondisk.h, GFS2_MAGIC.
  [0x01161970, 'GFS2'],
  // Linux, fs/vboxsf/super.c, VBOXSF_SUPER_MAGIC.
  [0x786f4256, 'a shared folder of VirtualBox'],
  // Not in Linux itself: GNU coreutils, src/stat.c, where each of these is marked "remote".
  [0x0bd00bd0, 'Lustre'],
  [0x47504653, 'GPFS'],
  [0x19830326, 'BeeGFS'],
  [0xaad7aaea, 'PanFS'],
  [0xbacbacbc, 'a shared folder of VMware'],
  [0x7c7c6673, 'a shared folder of Parallels'],
])

/** Names as /proc/self/mountinfo tells them (proc_pid_mountinfo(5)): what a module calls itself is firmer than a number it chose. */
const BY_NAME: ReadonlyMap<string, string> = new Map([
  ...['nfs', 'nfs4'].map((name) => [name, 'NFS'] as const),
  ...['cifs', 'smb3', 'smbfs'].map((name) => [name, 'SMB'] as const),
  ...['ncp', 'ncpfs'].map((name) => [name, 'NCP'] as const),
  ...['beegfs', 'fhgfs'].map((name) => [name, 'BeeGFS'] as const),
  ...['fuse', 'fuseblk'].map((name) => [name, 'FUSE'] as const),
  ['9p', '9p'],
  ['virtiofs', 'virtiofs'],
  ['ceph', 'Ceph'],
  ['afs', 'AFS'],
  ['coda', 'Coda'],
  ['ocfs2', 'OCFS2'],
  ['gfs2', 'GFS2'],
  ['lustre', 'Lustre'],
  ['gpfs', 'GPFS'],
  ['panfs', 'PanFS'],
  ['vboxsf', 'a shared folder of VirtualBox'],
  ['vmhgfs', 'a shared folder of VMware'],
  ['prl_fs', 'a shared folder of Parallels'],
])

export type Statfs = (path: string) => Promise<{ readonly type: number }>
/** What is asked of the system, so that another one can be told of. */
export type System = { readonly platform: string; readonly statfs: Statfs; readonly mounts: () => Promise<string> }

const thisOne: System = { platform: process.platform, statfs, mounts: () => readFile('/proc/self/mountinfo', 'utf8').catch(() => '') }

export function isTold(system: Partial<System> = {}): boolean {
  return (system.platform ?? thisOne.platform) === 'linux'
}

/**
 * Where a path leads to, links followed, or would lead to once it is made, and the name of the file system there if that reaches another
 * machine, or may. Null in place of the name for one of this machine, and where the system does not tell. Nothing is written.
 */
export async function placeOf(
  path: string,
  given: Partial<System> = {},
): Promise<{ readonly place: string; readonly over: string | null }> {
  const system = { ...thisOne, ...given }
  const place = await followed(path)
  if (!isTold(system)) return { place, over: null }
  const byName = nameOf(typeAt(place, await system.mounts()))
  return { place, over: byName ?? BY_TYPE.get((await system.statfs(place)).type >>> 0) ?? null }
}

/** Bytes that may still be written at a path. */
export async function freeBytes(path: string): Promise<number> {
  const { bavail, bsize } = await statfs(path)
  return bavail * bsize
}

/** A link that leads nowhere yet is followed too: SQLite makes the file at its end. One in a circle is refused by the system (ELOOP). */
async function followed(path: string): Promise<string> {
  const there = nearestThere(path)
  try {
    return await realpath(there)
  } catch (fault) {
    if ((fault as NodeJS.ErrnoException).code !== 'ENOENT') throw fault
    return followed(resolve(dirname(there), await readlink(there)))
  }
}

/** The type of the innermost mount that holds a path; of two at the same point the later one lies on top. */
function typeAt(path: string, mounts: string): string {
  let [length, type] = [0, '']
  for (const line of mounts.split('\n')) {
    const [before = '', after = ''] = line.split(' - ')
    const point = unescaped(before.split(' ')[4] ?? '')
    const holds = point === path || path.startsWith(point.endsWith('/') ? point : `${point}/`)
    if (point === '' || !holds || point.length < length) continue
    length = point.length
    type = after.split(' ')[0] ?? ''
  }
  return type
}

/** proc_pid_mountinfo(5): space, tab, line end and backslash stand there as three octal digits. */
function unescaped(text: string): string {
  return text.replaceAll(/\\([0-7]{3})/g, (_, digits: string) => String.fromCharCode(Number.parseInt(digits, 8)))
}

/** What is mounted by FUSE may add whose it is, as in `fuse.sshfs`. */
function nameOf(type: string): string | undefined {
  return BY_NAME.get(type.startsWith('fuse.') ? 'fuse' : type)
}
