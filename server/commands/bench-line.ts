import type { Socket } from 'node:net'

/** One connection, kept open, that knows just enough http to see where an answer ends. */
export class Line {
  readonly #socket: Socket
  #held = Buffer.alloc(0)
  #missing = -1
  #status = 0
  #answered: (status: number) => void = () => {}

  constructor(socket: Socket) {
    this.#socket = socket.setNoDelay()
    socket.on('data', (bytes) => this.#take(bytes))
    socket.on('error', () => this.#answered(0))
    socket.on('close', () => this.#answered(0))
  }

  get(url: string, cookie: string): Promise<number> {
    return new Promise((resolve) => {
      this.#answered = resolve
      this.#socket.write(`GET ${url} HTTP/1.1\r\nHost: 127.0.0.1\r\nCookie: ${cookie}\r\n\r\n`)
    })
  }

  end(): void {
    this.#socket.end()
  }

  #take(bytes: Buffer): void {
    if (this.#missing < 0) {
      this.#held = Buffer.concat([this.#held, bytes])
      const end = this.#held.indexOf('\r\n\r\n')
      if (end < 0) return
      const head = this.#held.toString('latin1', 0, end)
      this.#status = Number(head.slice(9, 12))
      this.#missing = Number(/content-length: (\d+)/i.exec(head)?.[1] ?? 0) - (this.#held.length - end - 4)
      this.#held = Buffer.alloc(0)
    } else this.#missing -= bytes.length
    if (this.#missing > 0) return
    this.#missing = -1
    this.#answered(this.#status)
  }
}
