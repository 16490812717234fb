/** What the data directory lies on. A database shared over a network loses locks and so, one day, records. */
import { statfs } from 'node:fs/promises'

/** Types as statfs(2) tells them; Linux man-pages 6, statfs(2), and linux/magic.h. */
const OVER_A_NETWORK: ReadonlyMap<number, string> = new Map([
  [0x6969, 'NFS'],
  [0x517b, 'SMB'],
  [0xff534d42, 'CIFS'],
  [0xfe534d42, 'SMB2'],
  [0x01021997, '9p'],
  [0x65735546, 'FUSE'],
  [0x00c36400, 'Ceph'],
  [0x5346414f, 'AFS'],
  [0x73757245, 'Coda'],
])

export type Statfs = (path: string) => Promise<{ readonly type: number }>

/** The name of a file system that reaches another machine, or may; null for one of this machine, and where the system does not tell. */
export async function networkFileSystem(path: string, ask: Statfs = statfs): Promise<string | null> {
  if (process.platform !== 'linux') return null
  const { type } = await ask(path)
  return OVER_A_NETWORK.get(type >>> 0) ?? null
}

/** Bytes that may still be written at a path. */
export async function freeBytes(path: string): Promise<number> {
  const { bavail, bsize } = await statfs(path)
  return bavail * bsize
}
