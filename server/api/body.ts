/** The body of a request: JSON that is neither endlessly nested nor holds what cannot be kept. */
import type { FastifyInstance } from 'fastify'
import { Problem } from './problem.ts'

const MOST_depth = 32

/** JSON alone is taken, whatever else the rest of the application takes. */
export function takeJsonOnly(app: FastifyInstance): void {
  app.removeAllContentTypeParsers()
  const parse = app.getDefaultJsonParser('error', 'error')
  app.addContentTypeParser('application/json', { parseAs: 'string' }, (request, text, done) => {
    const json = String(text)
    if (isTooDeep(json)) return done(new Problem('not-json', `The body is nested more than ${MOST_depth} deep.`), undefined)
    return parse(request, json, (fault, body) => {
      if (fault) return done(new Problem('not-json', 'The body is not JSON, or has a field whose name is not taken.'), undefined)
      const field = unkeepable(body, '')
      if (field === null) return done(null, body)
      const faults = [{ field, says: 'This holds a character that cannot be kept.' }]
      return done(new Problem('not-valid', 'A text holds a character that cannot be kept.', { faults }), undefined)
    })
  })
}

/** By its brackets, without building anything. */
function isTooDeep(json: string): boolean {
  let depth = 0
  let isText = false
  for (let at = 0; at < json.length; at++) {
    const one = json[at]
    if (isText && one === '\\') at++
    else if (one === '"') isText = !isText
    else if (isText) continue
    else if (one === '{' || one === '[') {
      if (++depth > MOST_depth) return true
    } else if (one === '}' || one === ']') depth--
  }
  return false
}

/** Where a text or a name holds NUL or half of a character; null where none does. */
function unkeepable(value: unknown, path: string): string | null {
  if (typeof value === 'string') return BAD.test(value) ? path : null
  if (typeof value !== 'object' || value === null) return null
  for (const [name, inner] of Object.entries(value)) {
    const at = path === '' ? name : `${path}.${name}`
    if (BAD.test(name)) return path
    const found = unkeepable(inner, at)
    if (found !== null) return found
  }
  return null
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: NUL is what is looked for
const BAD = /[\u0000\p{Surrogate}]/u
