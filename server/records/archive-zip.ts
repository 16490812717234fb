/** A zip that is made while it is read. One file is open at a time; a reader that goes away ends it, and nothing of it is left. */
import { createReadStream, type ReadStream } from 'node:fs'
import type { PassThrough } from 'node:stream'
import yazl from 'yazl'
import type { Manifest } from './archive-write.ts'

/** Always the same moment: two archives of the same records differ in the manifest alone. */
const mtime = new Date('2000-01-01T00:00:00Z')

export class ArchiveZip {
  readonly stream: PassThrough
  readonly #zip = new yazl.ZipFile()
  #open: ReadStream | null = null

  /** `clean` is called once, however it ends. */
  constructor(clean: () => void) {
    this.stream = this.#zip.outputStream as PassThrough
    this.#zip.on('error', (fault) => this.stream.destroy(fault as Error))
    // Said to whoever reads; what is still written after that goes nowhere.
    this.stream.on('error', () => {})
    this.stream.once('close', () => {
      this.#open?.destroy()
      clean()
    })
  }

  add(name: string, file: { readonly path: string; readonly bytes: number; readonly compress: boolean }): void {
    const { path, bytes: size, compress } = file
    this.#zip.addReadStreamLazy(name, { size, compress, mtime, mode: 0o100600 }, (give) => {
      if (this.stream.destroyed) return
      this.#open = createReadStream(path)
      this.#open.once('error', (fault) => this.stream.destroy(fault))
      give(null, this.#open)
    })
  }

  /** The manifest comes last: only then is all of it known. */
  end(manifest: Manifest): void {
    if (this.stream.destroyed) return
    this.#zip.addBuffer(Buffer.from(`${JSON.stringify(manifest, null, 1)}\n`), 'manifest.json', { mtime, mode: 0o100600 })
    this.#zip.end()
  }
}
