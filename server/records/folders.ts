/** Folders that somebody named: how far the way to one is there already, and the rest of it made. */
import { accessSync, constants, lstatSync, mkdirSync, statSync } from 'node:fs'
import { dirname, resolve } from 'node:path'

/** The path itself, or the nearest above it that is there. A link that leads nowhere is there. */
export function nearestThere(path: string): string {
  const whole = resolve(path)
  try {
    lstatSync(whole)
    return whole
  } catch (fault) {
    const { code } = fault as NodeJS.ErrnoException
    if ((code !== 'ENOENT' && code !== 'ENOTDIR') || dirname(whole) === whole) throw fault
    return nearestThere(dirname(whole))
  }
}

/** With every folder that is missing above it, each for its owner only. Step by step: Node's own `recursive` never ends below /proc. */
export function makeFolder(path: string): void {
  const whole = resolve(path)
  const there = nearestThere(whole)
  if (there !== whole) {
    makeFolder(dirname(whole))
    try {
      mkdirSync(whole, { mode: 0o700 })
    } catch (fault) {
      // Another start may have been faster.
      if ((fault as NodeJS.ErrnoException).code !== 'EEXIST' || !statSync(whole).isDirectory()) throw fault
    }
  } else if (!statSync(whole).isDirectory()) throw Object.assign(new Error(`${whole} is a file`), { code: 'ENOTDIR' })
}

/** Why nothing could be made there, as far as looking tells; null where nothing speaks against it. Nothing is written. */
export function whyNotWritable(path: string): string | null {
  try {
    const there = nearestThere(path)
    if (!statSync(there).isDirectory()) return `${there} is a file`
    accessSync(there, constants.W_OK | constants.X_OK)
    return null
  } catch (fault) {
    return (fault as Error).message
  }
}

/** For a folder that could not be used: whose right it is that is missing. */
export function whoAmI(): string {
  return ` Loombook runs as user ${process.getuid?.() ?? '?'}, group ${process.getgid?.() ?? '?'}: that user needs to own it.`
}
