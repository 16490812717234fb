/**
 * How much memory the process may still take before the kernel ends it: what a control group allows, less what it holds. Files that the
 * kernel keeps in memory count as held and are let go first, so they are taken off again; what is mapped, such as the program itself, is not.
 */
import { readFileSync } from 'node:fs'
import { posix } from 'node:path'

export type Groups = {
  /** where control groups are mounted, and what tells the process's own: cgroups(7) */
  readonly mounted: string
  readonly own: string
  /** what Node itself says of a bound, for systems whose groups cannot be read; bytes */
  readonly constrained: () => number
  readonly held: () => number
}

const SYSTEM: Groups = {
  mounted: '/sys/fs/cgroup',
  own: '/proc/self/cgroup',
  constrained: () => process.constrainedMemory?.() ?? 0,
  held: () => process.memoryUsage.rss(),
}
/** Version 1 writes the largest number of pages that there is where it means no bound: 2⁶³ less a page. No machine has 2⁵⁰ bytes. */
const NO_BOUND = 2 ** 50

// The kernel's own descriptions: admin-guide/cgroup-v2 (memory.max, memory.high, memory.current, memory.stat), cgroup-v1/memory.
const KINDS = [
  { line: /^0::(.*)$/m, under: '', bounds: ['memory.max', 'memory.high'], used: 'memory.current', stat: '', mapped: 'file_mapped' },
  {
    line: /^\d+:(?:[^:\n]*,)?memory(?:,[^:\n]*)?:(.*)$/m,
    under: 'memory',
    bounds: ['memory.limit_in_bytes'],
    used: 'memory.usage_in_bytes',
    stat: 'total_',
    mapped: 'mapped_file',
  },
] as const

/** Null where no bound is known. A group within others is bound by each of them: the one with least to spare decides. */
export function spareMemory_bytes(system: Groups = SYSTEM): number | null {
  const own = read(system.own) ?? ''
  const spares = KINDS.flatMap((kind) => {
    const path = kind.line.exec(own)?.[1]
    if (path === undefined) return []
    const folders = upwards(path).map((folder) => posix.join(system.mounted, kind.under, folder))
    return folders.flatMap((folder) => spareIn(folder, kind) ?? [])
  })
  if (spares.length > 0) return Math.min(...spares)
  const bound = system.constrained()
  return bound > 0 && bound < NO_BOUND ? Math.max(0, bound - system.held()) : null
}

/** From a container its group's path may not be found, while its root is the group: so the root is always asked too. */
function upwards(path: string): readonly string[] {
  const folder = posix.normalize(`/${path}`)
  return folder === '/' ? ['/'] : [folder, ...upwards(posix.dirname(folder))]
}

function spareIn(folder: string, kind: (typeof KINDS)[number]): number | null {
  const bounds = kind.bounds.map((name) => Number(read(posix.join(folder, name)) ?? Number.NaN)).filter((bound) => bound < NO_BOUND)
  const used = Number(read(posix.join(folder, kind.used)) ?? Number.NaN)
  if (bounds.length === 0 || Number.isNaN(used)) return null
  const stat = read(posix.join(folder, 'memory.stat')) ?? ''
  const told = (name: string) => Number(new RegExp(`^${name} (\\d+)$`, 'm').exec(stat)?.[1] ?? 0)
  const cached = told(`${kind.stat}inactive_file`) + told(`${kind.stat}active_file`) - told(kind.stat + kind.mapped)
  return Math.max(0, Math.min(...bounds) - used + Math.max(0, cached))
}

function read(path: string): string | null {
  try {
    return readFileSync(path, 'utf8').trim()
  } catch {
    return null
  }
}
