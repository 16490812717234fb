/** Connections with nothing asked on them end; and where all places are taken one is given up, so that who comes next gets in. */
import fastify from 'fastify'
import { once } from 'node:events'
import { type AddressInfo, connect, type Socket } from 'node:net'
import { setTimeout as later } from 'node:timers/promises'
import { afterEach, describe, expect, test } from 'vitest'
import { networkOf } from '../../server/records/sign-in-limits.ts'
import { connections, MOST_connections } from '../../server/web/connections.ts'
import { pace } from '../../server/web/pace.ts'
import { openBook } from '../pages/book.ts'

const KEPT_ms = 400
const HEADERS_ms = 800
const GET = 'GET / HTTP/1.1\r\nHost: loombook\r\n\r\n'
const closing: (() => Promise<unknown>)[] = []
afterEach(async () => {
  for (const close of closing.splice(0)) await close()
})

type Visitor = {
  readonly socket: Socket
  readonly heard: () => string
  readonly isClosed: () => boolean
  /** the first line of what is answered; empty where the door is shut */
  readonly ask: (bytes?: string) => Promise<string>
}

/** `kept_ms` and `headers_ms` are the server's own time-outs. */
async function house(given: { readonly most: number; readonly kept_ms?: number; readonly headers_ms?: number; readonly proxy?: string }) {
  const { most, kept_ms = 60_000, headers_ms = 60_000, proxy } = given
  const lines: string[] = []
  const app = fastify({
    keepAliveTimeout: kept_ms,
    trustProxy: proxy ?? false,
    logger: { level: 'warn', stream: { write: (line: string) => void lines.push(line) } },
  })
  app.server.headersTimeout = headers_ms
  await app.register(connections, { most, networkOf, look_every_ms: 20 })
  await app.register(pace, { window_ms: 100, least_bytes: 20 })
  app.get('/', async () => 'here')
  app.post('/', async () => 'taken')
  app.post('/early', { onRequest: async (_request, reply) => reply.status(403).send('no') }, async () => '')
  const begun: string[] = []
  app.get('/long/:name', async (request) => {
    begun.push((request.params as { name: string }).name)
    await later(3000)
    return 'at last'
  })
  await app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = app.server.address() as AddressInfo
  const sockets: Socket[] = []
  closing.push(async () => {
    for (const socket of sockets) socket.destroy()
    await app.close()
  })
  /** All of 127.0.0.0/8 is this machine: each of its addresses is somebody else. */
  const come = async (from = '127.0.0.1'): Promise<Visitor> => {
    const socket = connect({ host: '127.0.0.1', port, localAddress: from })
    let heard = ''
    let isClosed = false
    socket.on('error', () => {})
    socket.on('data', (bytes) => {
      heard += String(bytes)
    })
    socket.on('close', () => {
      isClosed = true
    })
    sockets.push(socket)
    await once(socket, 'connect')
    const ask = async (bytes = GET) => {
      const before = heard.length
      if (!isClosed) socket.write(bytes)
      for (let n = 0; n < 250 && !isClosed && heard.length === before; n++) await later(10)
      return heard.slice(before).split('\r\n')[0] ?? ''
    }
    return { socket, ask, heard: () => heard, isClosed: () => isClosed }
  }
  /** Comes in and has something long under way there. */
  const stay = async (name: string, from?: string, more = '') => {
    const visitor = await come(from)
    visitor.socket.write(`GET /long/${name} HTTP/1.1\r\nHost: loombook\r\n${more}\r\n`)
    for (let n = 0; n < 250 && !begun.includes(name); n++) await later(10)
    return visitor
  }
  const said = () => lines.map((line) => (JSON.parse(line) as { msg: string }).msg)
  return { app, come, stay, said }
}

/** Sends these bytes every few milliseconds until it is closed, for so long at most; answers how long that took. */
async function trickle({ socket, isClosed }: Visitor, bytes: string, most_ms = 4000): Promise<number> {
  const begun = performance.now()
  while (!isClosed() && performance.now() - begun < most_ms) {
    socket.write(bytes)
    await later(25)
  }
  return performance.now() - begun
}

describe('B16: a connection on which nothing is asked ends, whatever bytes come', () => {
  test('blank lines after an answer hold it no longer than silence does', async () => {
    const { come } = await house({ most: 10, kept_ms: KEPT_ms })
    const visitor = await come()
    expect(await visitor.ask()).toBe('HTTP/1.1 200 OK')
    const took_ms = await trickle(visitor, '\r\n')
    expect(visitor.isClosed()).toBe(true)
    expect(took_ms).toBeGreaterThan(KEPT_ms / 2)
    expect(took_ms).toBeLessThan(2000)
  })

  test('half a header after an answer does not hold it either', async () => {
    const { come } = await house({ most: 10, kept_ms: KEPT_ms })
    const visitor = await come()
    await visitor.ask()
    visitor.socket.write('GET / HTTP/1.1\r\nX-A: ')
    expect(await trickle(visitor, 'a')).toBeLessThan(2000)
    expect(visitor.isClosed()).toBe(true)
  })

  test('one that never asked is told 408 after the time for headers', async () => {
    const { come } = await house({ most: 10, kept_ms: 60_000, headers_ms: HEADERS_ms })
    const visitor = await come()
    const took_ms = await trickle(visitor, '\r\n')
    expect(visitor.isClosed()).toBe(true)
    expect(took_ms).toBeGreaterThan(HEADERS_ms / 2)
    expect(took_ms).toBeLessThan(3000)
    expect(visitor.heard().split('\r\n')[0]).toBe('HTTP/1.1 408 Request Timeout')
  })

  test('one that asks now and then stays, and so does one whose answer takes longer than that', async () => {
    const { come, stay } = await house({ most: 10, kept_ms: KEPT_ms })
    const patient = await stay('patient')
    const steady = await come()
    for (let n = 0; n < 8; n++) {
      expect(await steady.ask()).toBe('HTTP/1.1 200 OK')
      await later(KEPT_ms / 3)
    }
    expect(patient.isClosed()).toBe(false)
    for (let n = 0; n < 300 && patient.heard() === ''; n++) await later(20)
    expect(patient.heard()).toContain('at last')
  })

  test('a body that goes on a byte now and then after its answer is given up like any other', async () => {
    const { come } = await house({ most: 10 })
    const visitor = await come()
    const head = 'POST /early HTTP/1.1\r\nHost: loombook\r\nContent-Type: text/plain\r\nContent-Length: 100000\r\n\r\n'
    expect(await visitor.ask(head)).toBe('HTTP/1.1 403 Forbidden')
    expect(await trickle(visitor, 'x')).toBeLessThan(2000)
    expect(visitor.isClosed()).toBe(true)
  })
})

describe('B16: where all places are taken', () => {
  test('nobody shuts the house by holding lines on which nothing is asked: whoever comes is answered, those idle longest go', async () => {
    const { come, said } = await house({ most: 4 })
    const held: Visitor[] = []
    for (let n = 0; n < 12; n++) held.push(await come())
    expect(await (await come()).ask()).toBe('HTTP/1.1 200 OK')
    await later(50)
    expect(held[0]?.isClosed()).toBe(true)
    expect(held.at(-1)?.isClosed()).toBe(false)
    expect(said()).toEqual(['all places were taken: one was given up'])
  })

  test('an answer under way is not cut off while another line is idle, however long it has been', async () => {
    const { come, stay } = await house({ most: 4 })
    const busy = await stay('busy')
    for (let n = 0; n < 8; n++) await come()
    for (let n = 0; n < 200 && busy.heard() === ''; n++) await later(20)
    expect(busy.heard()).toContain('at last')
  })

  test('of lines that are idle those go first whose address holds more than a quarter of all', async () => {
    const { come } = await house({ most: 8 })
    const modest = await come('127.0.0.2')
    expect(await modest.ask()).toBe('HTTP/1.1 200 OK')
    for (let n = 0; n < 20; n++) await come('127.0.0.3')
    expect(await modest.ask()).toBe('HTTP/1.1 200 OK')
  })

  test('with something under way on all, an address that holds more than a quarter loses its longest to somebody else', async () => {
    const { come, stay } = await house({ most: 4 })
    const first = await stay('a', '127.0.0.3')
    const second = await stay('b', '127.0.0.3')
    await stay('c', '127.0.0.3')
    expect(await (await come('127.0.0.2')).ask()).toBe('HTTP/1.1 200 OK')
    await later(50)
    expect([first.isClosed(), second.isClosed()]).toEqual([true, false])
  })

  test('and it is turned away itself where it comes with one more', async () => {
    const { come, stay, said } = await house({ most: 4 })
    const busy = [await stay('a', '127.0.0.3'), await stay('b', '127.0.0.3'), await stay('c', '127.0.0.3')]
    expect(await (await come('127.0.0.3')).ask()).toBe('')
    expect(busy.map((one) => one.isClosed())).toEqual([false, false, false])
    expect(said()).toEqual(['a connection was turned away: its address has more than its share'])
  })

  test('nor does it drive out somebody else’s idle line so', async () => {
    const { come, stay } = await house({ most: 4 })
    const modest = await come('127.0.0.2')
    await stay('a', '127.0.0.3')
    await stay('b', '127.0.0.3')
    for (let n = 0; n < 5; n++) await come('127.0.0.3')
    expect(await modest.ask()).toBe('HTTP/1.1 200 OK')
  })

  test('behind a trusted proxy it is whom the proxy names that counts', async () => {
    const { come, stay } = await house({ most: 8, proxy: '127.0.0.1' })
    const named = (who: string) => `X-Forwarded-For: ${who}\r\n`
    const modest = await stay('m', '127.0.0.1', named('192.0.2.1'))
    const greedy = []
    for (let n = 0; n < 6; n++) greedy.push(await stay(`g${n}`, '127.0.0.1', named('198.51.100.1')))
    expect(await (await come('127.0.0.1')).ask(`GET / HTTP/1.1\r\nHost: loombook\r\n${named('192.0.2.1')}\r\n`)).toBe('HTTP/1.1 200 OK')
    await later(50)
    expect([modest, ...greedy].map((one) => one.isClosed())).toEqual([false, true, false, false, false, false, false])
  })

  test('three may be connected, and a fourth: with something under way on each the next two are turned away, nobody is cut off, and it is logged once', async () => {
    const { come, stay, said } = await house({ most: 4 })
    const busy = []
    for (const n of [2, 3, 4, 5]) busy.push(await stay(`n${n}`, `127.0.0.${n}`))
    for (let n = 0; n < 2; n++) expect(await (await come('127.0.0.6')).ask()).toBe('')
    expect(busy.map((one) => one.isClosed())).toEqual([false, false, false, false])
    expect(said()).toEqual(['connections are turned away: as many are open as may be'])
    busy[0]?.socket.destroy()
    let answered = ''
    // The server learns of it when the closing has reached it.
    for (let tries = 0; tries < 50 && answered === ''; tries++) {
      await later(20)
      answered = await (await come('127.0.0.6')).ask()
    }
    expect(answered).toBe('HTTP/1.1 200 OK')
  })
})

test('the application is built with its own cap', async () => {
  const book = await openBook({ demo: false })
  expect([book.app.server.maxConnections, MOST_connections]).toEqual([512, 512])
  await book.close()
})
