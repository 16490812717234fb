import { readFileSync } from 'node:fs'
import { join } from 'node:path'

/** What the Dockerfile starts in the bundle's folder, with the settings it gives to node and to the C library. */
export function asTheImageStartsIt(): { readonly command: readonly string[]; readonly env: Readonly<Record<string, string>> } {
  const file = readFileSync(join(import.meta.dirname, 'Dockerfile'), 'utf8')
  const words = JSON.parse(/^CMD (\[.+\])$/m.exec(file)?.[1] ?? '') as string[]
  const memory = [...file.matchAll(/\b(MALLOC_\w+)=(\S+)/g)].map(([, name, value]) => [name as string, value as string])
  return { command: words.map((word) => word.replace(/^\/app\//, '')), env: Object.fromEntries(memory) }
}
