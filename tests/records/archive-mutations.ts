/** Archives that were right once: bytes changed in the zip, records changed in what the manifest then calls right, and plain noise. */
import fc from 'fast-check'
import { forged, makeZip, readZip } from './archive-forge.ts'

const odd: fc.Arbitrary<unknown> = fc.oneof(
  fc.constantFrom(
    null,
    0,
    -1,
    1.5,
    1e15,
    '',
    'x',
    '2024-02-30',
    '../../x',
    '00000000-0000-0000-0000-000000000000',
    [],
    {},
    true,
    'fuse',
    'noted',
  ),
  fc.string({ maxLength: 12 }),
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc.object({ maxDepth: 2, maxKeys: 3 }),
)

/** Of these bytes, another archive. */
export function mutationOf(whole: Buffer): fc.Arbitrary<Buffer> {
  const names = [...readZip(whole).keys()].filter((name) => name.startsWith('records/'))
  const nat = fc.nat(1_000_000)
  return fc.oneof(
    {
      weight: 2,
      arbitrary: fc
        .array(fc.tuple(fc.nat(whole.length - 1), fc.nat(255)), { minLength: 1, maxLength: 6 })
        .map((edits) => edited(whole, edits)),
    },
    { weight: 1, arbitrary: fc.tuple(nat, nat).map(([from, length]) => cut(whole, from, length)) },
    { weight: 1, arbitrary: fc.uint8Array({ maxLength: 400 }).map((bytes) => Buffer.from(bytes)) },
    // The manifest and the zip agree with what was changed: it is for the records to be judged.
    {
      weight: 6,
      arbitrary: fc
        .tuple(fc.constantFrom(...names), fc.array(fc.tuple(nat, nat, odd, nat), { minLength: 1, maxLength: 3 }))
        .map(([name, edits]) => otherRecords(whole, name, edits)),
    },
    {
      weight: 2,
      arbitrary: fc.tuple(fc.constantFrom(...names), nat, nat).map(([name, at, byte]) => otherBytes(whole, name, { at, byte })),
    },
    { weight: 1, arbitrary: fc.tuple(nat, odd).map(([at, value]) => otherManifest(whole, at, value)) },
  )
}

function edited(whole: Buffer, edits: readonly (readonly [number, number])[]): Buffer {
  const bytes = Buffer.from(whole)
  for (const [at, byte] of edits) bytes[at] = byte
  return bytes
}

function cut(whole: Buffer, from: number, length: number): Buffer {
  const at = from % whole.length
  return Buffer.concat([whole.subarray(0, at), whole.subarray(at + (length % 5000))])
}

type Record = { [name: string]: unknown }

function otherRecords(whole: Buffer, name: string, edits: readonly (readonly [number, number, unknown, number])[]): Buffer {
  return forged(whole, (files) => {
    const lines = String(files.get(name))
      .split('\n')
      .slice(0, -1)
      .map((line) => JSON.parse(line) as Record)
    for (const [which, field, value, how] of edits) {
      if (lines.length === 0) break
      const at = which % lines.length
      const line = lines[at] as Record
      const key = Object.keys(line)[field % Object.keys(line).length] as string
      const other = lines[(which + field) % lines.length] as Record
      if (how % 7 === 0) lines.splice(at, 1)
      else if (how % 7 === 1) lines.push({ ...line })
      else if (how % 7 === 2) line[key] = other[key]
      else if (how % 7 === 3) delete line[key]
      else if (how % 7 === 4 && typeof line.payload === 'object') inPayload(line.payload as Record, field, value)
      else if (how % 7 === 5) line[key] = Object.values(other)[field % Object.values(other).length]
      else line[key] = value
    }
    files.set(name, Buffer.from(lines.map((line) => `${JSON.stringify(line)}\n`).join('')))
  })
}

function inPayload(payload: Record, field: number, value: unknown): void {
  const keys = Object.keys(payload)
  const key = keys[field % keys.length] ?? 'component'
  const inner = payload[key]
  if (typeof inner === 'object' && inner !== null && !Array.isArray(inner) && field % 2 === 0) inPayload(inner as Record, field >> 1, value)
  else payload[key] = value
}

function otherBytes(whole: Buffer, name: string, given: { readonly at: number; readonly byte: number }): Buffer {
  return forged(whole, (files) => {
    const bytes = Buffer.from(files.get(name) as Buffer)
    if (bytes.length > 0) bytes[given.at % bytes.length] = given.byte % 256
    files.set(name, bytes)
  })
}

function otherManifest(whole: Buffer, at: number, value: unknown): Buffer {
  const files = readZip(whole)
  const manifest = JSON.parse(String(files.get('manifest.json'))) as Record
  const keys = Object.keys(manifest)
  manifest[keys[at % keys.length] as string] = value
  files.set('manifest.json', Buffer.from(JSON.stringify(manifest)))
  return makeZip([...files].map(([name, bytes]) => [name, bytes] as const))
}
