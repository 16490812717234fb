/** What was typed in a form that could not be taken: shown again after signing in, held in memory for a while and for that person only. */
import { randomUUID } from 'node:crypto'
import plugin from 'fastify-plugin'

export type Field = { readonly name: string; readonly value: string }
export type KeptForms = {
  /** the name to ask for it by */
  keep(personId: string, fields: readonly Field[]): string
  /** keeps it, and says where it is shown again */
  address(at: string, form: { readonly personId: string; readonly fields: readonly Field[] }): string
  find(personId: string, name: unknown): Readonly<Record<string, string | readonly string[]>> | null
}

declare module 'fastify' {
  interface FastifyInstance {
    keptForms: KeptForms
  }
}

const MOST_FIELDS = 200
const MOST_LETTERS = 64_000
const MOST_FORMS = 100
const KEPT_ms = 60 * 60 * 1000

export const keptForms = plugin(async (app) => {
  const forms = new Map<string, { readonly personId: string; readonly fields: readonly Field[]; readonly until_ms: number }>()
  const now_ms = () => app.clock.now().getTime()
  const kept: KeptForms = {
    keep(personId, fields) {
      for (const [name, form] of forms) if (form.until_ms < now_ms() || forms.size >= MOST_FORMS) forms.delete(name)
      const name = randomUUID()
      forms.set(name, { personId, fields, until_ms: now_ms() + KEPT_ms })
      return name
    },
    address(at, { personId, fields }) {
      return `${at}${at.includes('?') ? '&' : '?'}kept=${kept.keep(personId, fields)}`
    },
    find(personId, name) {
      const form = typeof name === 'string' ? forms.get(name) : undefined
      if (!form || form.personId !== personId || form.until_ms < now_ms()) return null
      const names = [...new Set(form.fields.map((field) => field.name))]
      return Object.fromEntries(
        names.map((one) => {
          const values = form.fields.filter((field) => field.name === one).map((field) => field.value)
          return [one, values.length === 1 ? (values[0] as string) : values]
        }),
      )
    },
  }
  app.decorate('keptForms', kept)
})

/** The fields worth keeping; null where they are more than a page should carry. Tokens and passwords never are. */
export function fieldsWorthKeeping(body: unknown): readonly Field[] | null {
  const fields = Object.entries(typeof body === 'object' && body !== null ? body : {})
    .filter(([name]) => !name.startsWith('_') && name !== 'password' && name !== 'do' && name.length <= 100)
    .flatMap(([name, value]) => (Array.isArray(value) ? value : [value]).map((one) => ({ name, value: String(one) })))
  const letters = fields.reduce((sum, field) => sum + field.name.length + field.value.length, 0)
  return fields.length <= MOST_FIELDS && letters <= MOST_LETTERS ? fields : null
}
