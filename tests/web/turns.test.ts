import { Agent, request } from 'node:http'
import type { AddressInfo } from 'node:net'
import fastify, { type FastifyInstance } from 'fastify'
import { afterEach, expect, test } from 'vitest'
import { turns } from '../../server/web/turns.ts'

const PAGES = 20
let app: FastifyInstance
afterEach(() => app.close())

/** A house whose every page holds the thread for a while; answers in which order it began what it was asked. */
async function ask(hasTurns: boolean): Promise<readonly string[]> {
  const begun: string[] = []
  app = fastify()
  if (hasTurns) await app.register(turns)
  app.get('/page', async () => {
    begun.push('page')
    for (const till_ms = performance.now() + 5; performance.now() < till_ms; );
    return 'a page'
  })
  app.post('/save', async () => {
    begun.push('save')
    return 'saved'
  })
  await app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = app.server.address() as AddressInfo
  const agent = new Agent({ keepAlive: true, maxSockets: PAGES + 1 })
  const send = (method: string, path: string) =>
    new Promise<number>((resolve, reject) => {
      const sent = request({ port, host: '127.0.0.1', method, path, agent }, (reply) =>
        reply.resume().on('end', () => resolve(reply.statusCode ?? 0)),
      )
      sent.on('error', reject)
      sent.end()
    })
  // Every connection is open beforehand, so that all pages are asked for in one breath.
  await Promise.all(Array.from({ length: PAGES + 1 }, () => send('POST', '/save')))
  begun.length = 0
  const pages = Array.from({ length: PAGES }, () => send('GET', '/page'))
  const saved = Promise.race(pages).then(() => send('POST', '/save'))
  expect(await Promise.all([...pages, saved])).toEqual(Array.from({ length: PAGES + 1 }, () => 200))
  agent.destroy()
  return begun
}

test('a save goes before the pages that wait', async () => {
  const begun = await ask(true)
  expect(begun).toHaveLength(PAGES + 1)
  expect(begun.indexOf('save')).toBeLessThan(PAGES / 2)
})

test('without turns it comes after them, so that this test would tell', async () => {
  expect((await ask(false)).indexOf('save')).toBeGreaterThan(PAGES / 2)
})

test('a page that nobody is before is made at once, and the next as well', async () => {
  app = fastify()
  await app.register(turns)
  app.get('/page', async () => 'a page')
  for (let n = 0; n < 3; n++) expect((await app.inject('/page')).body).toBe('a page')
})
