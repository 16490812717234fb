/** UUIDv7 (RFC 9562): ids sort in the order they were given, even within one millisecond and if the clock steps back. */
import { randomBytes } from 'node:crypto'
import type { Clock } from './clock.ts'

let last_ms = 0
let counter = 0

/** Ids go on after this one, which was given before the clock was last started: it may since have been put back. */
export function continueAfter(id: string): void {
  const time_ms = Number.parseInt(id.slice(0, 8) + id.slice(9, 13), 16)
  if (!(time_ms >= last_ms)) return
  const given = Number.parseInt(id.slice(15, 18), 16)
  counter = time_ms > last_ms ? given : Math.max(counter, given)
  last_ms = time_ms
}

export function newId(clock: Clock): string {
  const now_ms = clock.now().getTime()
  if (now_ms > last_ms) {
    last_ms = now_ms
    counter = 0
  } else {
    counter += 1
    if (counter > 0xfff) {
      last_ms += 1
      counter = 0
    }
  }
  const time = last_ms.toString(16).padStart(12, '0')
  const tail = randomBytes(8)
  tail[0] = ((tail[0] ?? 0) & 0x3f) | 0x80
  const hex = tail.toString('hex')
  return `${time.slice(0, 8)}-${time.slice(8)}-7${counter.toString(16).padStart(3, '0')}-${hex.slice(0, 4)}-${hex.slice(4)}`
}
