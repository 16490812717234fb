/** A bound of memory that the kernel keeps, for a process and all that it starts: cgroups(7). */
import { existsSync, mkdirSync, readFileSync, rmdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'

export type MemoryGroup = {
  /** the command that runs this one within the bound */
  readonly starts: (command: readonly string[]) => readonly string[]
  /** with what of files was kept in memory */
  readonly most_bytes: () => number
  /** how many processes were ended because there was no more */
  readonly killed: () => number
  /** once all of them have ended */
  readonly remove: () => void
}

/** Control groups, version 2 or 1, whichever is mounted and can be written (as root on Linux); null where neither can. */
export function memoryGroup(bound_MB: number): MemoryGroup | null {
  const name = `loombook-${process.pid}`
  const bound = String(bound_MB * 1024 * 1024)
  const kinds = [
    { at: join('/sys/fs/cgroup', name), bound: 'memory.max', most: 'memory.peak', killed: 'memory.events' },
    {
      at: join('/sys/fs/cgroup/memory', name),
      bound: 'memory.limit_in_bytes',
      most: 'memory.max_usage_in_bytes',
      killed: 'memory.oom_control',
    },
  ]
  for (const kind of kinds)
    try {
      mkdirSync(kind.at)
      const remove = () => rmdirSync(kind.at)
      // Where nothing of that kind is mounted it is a folder like any other.
      if (!existsSync(join(kind.at, kind.bound))) {
        remove()
        continue
      }
      writeFileSync(join(kind.at, kind.bound), bound)
      const read = (file: string) => readFileSync(join(kind.at, file), 'utf8')
      return {
        starts: (command) => ['sh', '-c', `echo $$ >'${join(kind.at, 'cgroup.procs')}' && exec ${command.join(' ')}`],
        most_bytes: () => Number(read(kind.most)),
        killed: () => Number(/oom_kill (\d+)/.exec(read(kind.killed))?.[1] ?? 0),
        remove,
      }
    } catch {}
  return null
}
