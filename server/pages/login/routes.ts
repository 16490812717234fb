import type { FastifyInstance } from 'fastify'
import { signIn, signOut } from '../../records/people.ts'
import { FormReader } from '../../web/form.ts'
import { type Field, fieldsWorthKeeping } from '../../web/kept-forms.ts'
import { cookieFlags, localPath, SESSION_COOKIE } from '../../web/session.ts'
import { refusalFaults } from '../shared/faults.ts'

/** Before the name of a field that is only carried along: the form at the door has a `name` of its own. */
const CARRIED = 'kept-'

export function register(app: FastifyInstance): void {
  app.get('/login', async (request, reply) => {
    if (request.signedIn) return reply.redirect('/', 303)
    const { next } = request.query as Record<string, unknown>
    return reply.page('login/show', { faults: [], next: localPath(next), name: '', kept: [], says: '' }, { title: 'Sign in' })
  })

  app.post('/sessions', async (request, reply) => {
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200 })
    const next = localPath(form.typed('next'))
    const kept = carried(form)
    const signed = await signIn(app.db, app.clock, { name, password: form.typed('password') })
    if (!signed.ok) {
      const says = kept.length > 0 ? 'What you typed is still kept here.' : ''
      const faults = refusalFaults(signed.refusals, { field: () => 'name' })
      return reply.page('login/show', { faults, next, name, kept, says }, { title: 'Sign in', status: 422 })
    }
    reply.setCookie(SESSION_COOKIE, signed.value.token, { ...cookieFlags(request), maxAge: 90 * 86_400 })
    if (kept.length === 0) return reply.redirect(next, 303)
    return reply.redirect(app.keptForms.address(next, { personId: signed.value.actor.personId, fields: kept }), 303)
  })

  app.post('/sessions/end', async (request, reply) => {
    const token = request.cookies[SESSION_COOKIE]
    if (token) signOut(app.db, token)
    reply.clearCookie(SESSION_COOKIE, { path: '/' })
    return reply.redirect('/login', 303)
  })
}

function carried(form: FormReader): readonly Field[] {
  const fields = Object.entries(form.body).filter(([name]) => name.startsWith(CARRIED))
  return fieldsWorthKeeping(Object.fromEntries(fields.map(([name, value]) => [name.slice(CARRIED.length), value]))) ?? []
}
