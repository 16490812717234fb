/** Passkeys of the person who is signed in: made, named, removed. */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { addPasskey, registrationOptions, removePasskey, renamePasskey } from '../../records/passkeys.ts'
import { NotFound } from '../../web/error-pages.ts'
import { FormReader } from '../../web/form.ts'
import { relyingParty } from '../../web/relying-party.ts'
import { refusalFaults, type ShownFault } from '../shared/faults.ts'
import { CONFIRMED } from './confirmed.ts'
import type { Show } from './routes.ts'

export type NewPasskey = {
  readonly faults: readonly ShownFault[]
  readonly name: string
  readonly party: string
  /** for the browser's own call; empty where it would refuse */
  readonly options: string
}

const NEW = { config: { needs: 'viewer', confirmAt: '/account/passkeys/new' } } as const
const PAGE = {
  title: 'A passkey',
  section: 'settings',
  trail: [{ href: '/account', label: 'Your account' }],
  scripts: ['passkey'],
} as const

export function register(app: FastifyInstance, showAccount: Show): void {
  const show = async (
    request: FastifyRequest,
    reply: FastifyReply,
    given: { readonly faults: readonly ShownFault[]; readonly name: string; readonly status: number },
  ) => {
    const { status, ...shown } = given
    const party = relyingParty(request)
    const challenge = app.challenges.make({ purpose: 'register', visitor: request.formToken })
    const options = party ? await registrationOptions(app.db, request.actor, { party, challenge }) : ''
    const view: NewPasskey = { ...shown, party: party?.id ?? '', options }
    return reply.page('account/passkey', view, { ...PAGE, status })
  }
  const idOf = (request: FastifyRequest) => (request.params as { id: string }).id

  app.get('/account/passkeys/new', NEW, async (request, reply) => show(request, reply, { faults: [], name: '', status: 200 }))

  app.post('/account/passkeys', NEW, async (request, reply) => {
    const form = new FormReader(request.body)
    const name = form.text('name', { max: 200 })
    const added = await addPasskey(app.db, app.clock, request.actor, {
      ...{ name, answer: form.typed('answer'), party: relyingParty(request) ?? { id: '', origin: '' } },
      takes: (challenge) => app.challenges.take(challenge, { purpose: 'register', visitor: request.formToken }),
    })
    if (!added.ok) return show(request, reply, { faults: refusalFaults(added.refusals), name, status: added.refusals[0]?.status ?? 422 })
    const { recoveryCodes: codes } = added.value
    return codes.length === 0
      ? reply.redirect('/account', 303)
      : reply.page('account/recovery', { codes }, { ...PAGE, title: 'Recovery codes' })
  })

  app.post('/account/passkeys/:id/names', CONFIRMED, async (request, reply) => {
    const renamed = renamePasskey(app.db, request.actor, idOf(request), new FormReader(request.body).text('name', { max: 200 }))
    if (renamed.ok) return reply.redirect('/account', 303)
    if (renamed.refusals[0]?.code === 'not-found') throw new NotFound()
    return showAccount(request, reply, { faults: refusalFaults(renamed.refusals), status: renamed.refusals[0]?.status ?? 422, done: '' })
  })

  app.post('/account/passkeys/:id/removals', CONFIRMED, async (request, reply) => {
    if (!removePasskey(app.db, app.clock, request.actor, idOf(request)).ok) throw new NotFound()
    return reply.redirect('/account', 303)
  })
}
