/** A household at its own pace: each person asks for something, looks at it for a while, and asks for something else. */
import { randomUUID } from 'node:crypto'
import { setTimeout as wait } from 'node:timers/promises'
import { tokenIn } from '../hosting.ts'
import type { Kind } from './kinds-of-request.ts'

export type Person = { readonly cookie: string; readonly token: string }
export type Times = ReadonlyMap<string, readonly number[]>
export type Told = {
  /** of each kind, in the order they were asked, from the question to the last byte */
  readonly times_ms: Times
  /** answers that are not what they should be, each with its status, address and beginning */
  readonly faults: readonly string[]
  readonly entries: number
  readonly photos: number
}

type Given = {
  readonly url: string
  /** the first is the owner */
  readonly people: readonly Person[]
  readonly apiToken: string
  readonly kinds: readonly Kind[]
  readonly lasts_s: number
  /** between an answer and what the same person asks next, half to one and a half of it */
  readonly pause_ms: number
}

/** Signs in as a browser does it. */
export async function signIn(url: string, given: { readonly name: string; readonly password: string }): Promise<Person> {
  const door = await fetch(`${url}/login`)
  const body = new URLSearchParams({ _token: tokenIn(await door.text()), ...given })
  const entered = await fetch(`${url}/sessions`, { method: 'POST', redirect: 'manual', headers: { cookie: cookiesOf(door) }, body })
  await entered.arrayBuffer()
  const cookie = cookiesOf(entered)
  if (entered.status !== 303 || cookie === '') throw new Error(`${given.name} was not let in: ${entered.status}`)
  const page = await fetch(`${url}/account`, { headers: { cookie } })
  return { cookie, token: tokenIn(await page.text()) }
}

/** Runs until the time is over, every kind was asked for and every request is answered. */
export async function askForYears(given: Given): Promise<Told> {
  const { url, people, kinds, pause_ms } = given
  const till_ms = performance.now() + given.lasts_s * 1000
  const times_ms = new Map<string, number[]>(kinds.map(({ name }) => [name, []]))
  const faults: string[] = []
  const saved = { entry: 0, photo: 0 }
  const pick = { one: (all: readonly string[]) => all[below(all.length)] as string, number: below }
  const headersFor = ({ needs }: Kind, person: Person) =>
    needs === 'program'
      ? { authorization: `Bearer ${given.apiToken}` }
      : { cookie: (needs === 'owner' ? (people[0] as Person) : person).cookie }
  const askFor = async (kind: Kind, person: Person) => {
    const { path, status, how, saves } = await kind.ask(pick, { token: person.token, once: randomUUID() })
    const from_ms = performance.now()
    const reply = await fetch(url + path, { redirect: 'manual', ...how, headers: headersFor(kind, person) })
    const body = Buffer.from(await reply.arrayBuffer())
    times_ms.get(kind.name)?.push(performance.now() - from_ms)
    if (reply.status !== status) faults.push(`${reply.status} ${kind.name} ${path} ${body.toString('utf8', 0, 200)}`)
    else if (saves) saved[saves]++
  }
  const deal = dealer(kinds)
  let owed = kinds.reduce((sum, kind) => sum + kind.times, 0)
  await Promise.all(
    people.map(async (person) => {
      for (;;) {
        await wait(pause_ms * (0.5 + Math.random()))
        if (performance.now() > till_ms && owed <= 0) return
        owed--
        const kind = deal()
        await askFor(kind, person).catch((fault: Error) => faults.push(`no answer: ${kind.name}: ${fault.message} ${fault.cause ?? ''}`))
      }
    }),
  )
  return { times_ms, faults, entries: saved.entry, photos: saved.photo }
}

/** All kinds in an order of chance, as often as each comes in a round; then anew. */
function dealer(kinds: readonly Kind[]): () => Kind {
  const left: Kind[] = []
  return () => {
    if (left.length === 0) left.push(...kinds.flatMap((kind) => Array.from({ length: kind.times }, () => kind)))
    return left.splice(below(left.length), 1)[0] as Kind
  }
}

function below(most: number): number {
  return Math.floor(Math.random() * most)
}

function cookiesOf(reply: Response): string {
  return reply.headers
    .getSetCookie()
    .map((one) => one.split(';')[0])
    .join('; ')
}
