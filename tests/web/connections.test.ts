/** As many connections as may be: who comes after is turned away, and gets in once there is room. */
import fastify from 'fastify'
import { once } from 'node:events'
import { type AddressInfo, connect, type Socket } from 'node:net'
import { setTimeout } from 'node:timers/promises'
import { expect, test } from 'vitest'
import { connections, MOST_connections } from '../../server/web/connections.ts'
import { openBook } from '../pages/book.ts'

const MOST = 3

async function house() {
  const lines: string[] = []
  const app = fastify({ logger: { level: 'warn', stream: { write: (line: string) => void lines.push(line) } } })
  await app.register(connections, { most: MOST })
  app.get('/', async () => 'here')
  await app.listen({ host: '127.0.0.1', port: 0 })
  const { port } = app.server.address() as AddressInfo
  const sockets: Socket[] = []
  const come = async () => {
    const socket = connect({ host: '127.0.0.1', port })
    socket.on('error', () => {})
    sockets.push(socket)
    await once(socket, 'connect')
    return socket
  }
  /** What is answered there; empty where the door was shut. */
  const ask = async (socket: Socket) => {
    if (socket.destroyed) return ''
    const got = new Promise<string>((answer) => {
      socket.once('data', (bytes) => answer(String(bytes)))
      socket.once('close', () => answer(''))
    })
    socket.write('GET / HTTP/1.1\r\nHost: loombook\r\n\r\n')
    return (await got).split('\r\n')[0] ?? ''
  }
  const close = async () => {
    for (const socket of sockets) socket.destroy()
    await app.close()
  }
  return { lines, come, ask, close }
}

test('three may be connected: the fourth and fifth are turned away, the three are answered, and it is logged once', async () => {
  const { lines, come, ask, close } = await house()
  const open = [await come(), await come(), await come()]
  for (let n = 0; n < 2; n++) expect(await ask(await come())).toBe('')
  for (const socket of open) expect(await ask(socket)).toBe('HTTP/1.1 200 OK')
  expect(lines.map((line) => JSON.parse(line) as { most: number; msg: string })).toMatchObject([
    { most: MOST, msg: expect.stringMatching(/turned away/) },
  ])
  await close()
})

test('where one leaves the next is answered', async () => {
  const { come, ask, close } = await house()
  const open = [await come(), await come(), await come()]
  expect(await ask(await come())).toBe('')
  open[0]?.destroy()
  let answered = ''
  // The server learns of it when the closing has reached it.
  for (let tries = 0; tries < 50 && answered === ''; tries++) {
    await setTimeout(20)
    answered = await ask(await come())
  }
  expect(answered).toBe('HTTP/1.1 200 OK')
  await close()
})

test('the application is built with its own cap', async () => {
  const book = await openBook({ demo: false })
  expect([book.app.server.maxConnections, MOST_connections]).toEqual([512, 512])
  await book.close()
})
