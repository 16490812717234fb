/** The demonstration vehicles asked by programs: a token that reads, one that writes, and one of another household. */
import { makeToken, type TokenScope } from '../../server/records/api-tokens.ts'
import type { Actor } from '../../server/records/contract.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { openBook as openPages } from '../pages/book.ts'
import { household, value } from '../records/book.ts'

export async function openBook(given: Parameters<typeof openPages>[0] = {}) {
  const book = await openPages(given)
  const stranger = household(book.db, book.clock, 'Stranger')
  const token = (actor: Actor, scope: TokenScope) =>
    value(makeToken(book.db, book.clock, actor, { name: `to ${scope}`, scope, expiresOn: null })).token
  const tokens = { read: token(book.actor, 'read'), write: token(book.actor, 'write'), stranger: token(stranger, 'write') }
  value(createVehicle(book.db, book.clock, stranger, { name: 'Elsewhere', systemVoltage_V: 12 }))
  const ask = (url: string, given: { readonly as?: keyof typeof tokens; readonly headers?: Record<string, string> } = {}) =>
    book.app.inject({ url, headers: { authorization: `Bearer ${tokens[given.as ?? 'read']}`, ...given.headers } })
  const tell = (url: string, body: unknown, given: { readonly as?: keyof typeof tokens; readonly headers?: Record<string, string> } = {}) =>
    book.app.inject({
      method: 'POST',
      url,
      headers: { authorization: `Bearer ${tokens[given.as ?? 'write']}`, 'content-type': 'application/json', ...given.headers },
      payload: typeof body === 'string' ? body : JSON.stringify(body),
    })
  return { ...book, stranger, tokens, ask, tell, vehicle: book.vehicles[0] as string }
}
export type ApiBook = Awaited<ReturnType<typeof openBook>>

/** An id of every sort of thing that an address can name. */
export async function idsOf(book: ApiBook): Promise<{ vehicle: string; entry: string; part: string; photo: string }> {
  const first = async (url: string) => ((await book.ask(url)).json() as { items: { id: string }[] }).items[0]?.id as string
  const { default: sharp } = await import('sharp')
  const bytes = await sharp({ create: { width: 300, height: 200, channels: 3, background: '#456' } })
    .jpeg()
    .withExif({ IFD0: { Copyright: 'Fern and Sons' } })
    .toBuffer()
  const sent = await book.send(`/vehicles/${book.vehicle}/photos`, { files: [{ name: 'box.jpg', bytes }] })
  return {
    vehicle: book.vehicle,
    entry: await first(`/api/vehicles/${book.vehicle}/entries`),
    part: await first('/api/parts'),
    photo: String(sent.headers.location).split('/').at(-1) as string,
  }
}

export const ENTRY = {
  effectiveOn: '2026-11-20',
  title: 'Looked at the relay',
  changes: [{ kind: 'noted', component: 'r7', text: 'Dry.' }],
}
