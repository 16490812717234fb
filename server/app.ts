/** Builds the application; never listens. Tests start here. */
import { randomBytes } from 'node:crypto'
import { join } from 'node:path'
import type { FastifyInstance } from 'fastify'
import { apiDocument } from './api/description.ts'
import { api } from './api/index.ts'
import { backupsOf, type Config } from './config.ts'
import { startDrawings } from './drawing/drawings.ts'
import { type Log, openEntrance } from './entrance.ts'
import { buildPages } from './pages/b/public.ts'
import { registerPages } from './pages/index.ts'
import { otherWays } from './pages/login/door.ts'
import { alarmOf } from './records/alarms.ts'
import { Challenges } from './records/challenges.ts'
import type { Clock } from './records/clock.ts'
import { isDamage, isFull, isInUse, noteBeside, noteDamage } from './records/damage.ts'
import type { Db } from './records/database.ts'
import { gauges } from './records/gauges.ts'
import { newId } from './records/ids.ts'
import { enterByProxy, folded, isFirstRun } from './records/people.ts'
import { drop, receive } from './records/photo-files.ts'
import { readOnlyBecause } from './records/sanity.ts'
import { noteSecurity } from './records/security-log.ts'
import { sessionOf } from './records/sessions.ts'
import { SignInLimits } from './records/sign-in-limits.ts'
import { writesOf } from './records/writes.ts'
import { errorPages } from './web/error-pages.ts'
import { forwarded } from './web/forwarded.ts'
import { guard } from './web/guard.ts'
import { keptForms } from './web/kept-forms.ts'
import { keptPages } from './web/kept-pages.ts'
import { loggedAddress } from './web/logged-address.ts'
import { metrics } from './web/metrics.ts'
import { multipart } from './web/multipart.ts'
import { outbound } from './web/outbound.ts'
import { provider } from './web/provider.ts'
import { sessions } from './web/session.ts'
import { views } from './web/views.ts'
import './decorations.ts'

export async function buildApp(given: {
  readonly db: Db
  readonly clock: Clock
  readonly config: Config
  readonly log?: Log
  /** starts anew after a restore; without it somebody has to */
  readonly restart?: () => void
}): Promise<FastifyInstance> {
  const { config } = given
  const { trustedProxies, forwardAuthHeader } = config
  const app = await openEntrance({
    ...{ clock: given.clock, config, log: given.log },
    most_bytes: 2 * 1024 * 1024,
    // Long enough for twenty photos over a phone's link; who sends next to nothing is given up far sooner.
    longest_ms: 30 * 60_000,
    newNumber: () => randomBytes(6).toString('hex'),
  })
  app.decorate('db', given.db)
  app.decorate('apiDocument', apiDocument)
  app.decorate('outbound', outbound({ allowsPrivate: given.config.allowPrivateTargets === true }))
  const drawings = startDrawings()
  app.decorate('drawings', drawings)
  app.addHook('onClose', () => drawings.close())
  app.decorate('backups', backupsOf(given.config))
  app.decorate('restart', given.restart ?? null)
  app.decorate('signInLimits', new SignInLimits(given.clock))
  app.decorate('provider', given.config.provider ? provider(given.config.provider) : null)
  app.decorate('challenges', new Challenges(given.clock))
  app.decorate('setUpCode', isFirstRun(given.db) ? randomBytes(5).toString('hex') : null)
  await app.register(views, {
    folder: join(import.meta.dirname, '..', 'views'),
    alarm: (request) => {
      const found = alarmOf(given.db, given.clock)
      const isOwner = request.actor?.role === 'owner'
      if (found === null || (found.kind === 'backup' && !isOwner)) return null
      const [href, link] = found.kind === 'damage' ? ['/rescue', 'What is damaged, and the way back'] : ['/settings', 'Backups']
      return { says: found.says, href: isOwner ? href : '', link }
    },
  })
  app.addHook('onError', async (_request, _reply, fault) => {
    if (isDamage(fault)) noteDamage(given.db, `The database file cannot be read everywhere: ${fault.message}.`)
  })
  // Who is refused is told so even where that cannot be noted.
  const note = (event: Parameters<typeof noteSecurity>[2]) => void noteBeside(() => noteSecurity(given.db, given.clock, event))
  await app.register(keptForms)
  await app.register(sessions, {
    find: (token: string) => sessionOf(given.db, given.clock, token),
    isFirstRun: () => isFirstRun(given.db),
    otherWays: (request) => otherWays(app, request),
    ...(forwardAuthHeader !== undefined && {
      byProxy: {
        nameOf: forwarded({
          header: forwardAuthHeader,
          isTrusted: (address) => trustedProxies?.holds(address) === true,
          ignored: (request) =>
            note({ kind: 'forward-auth-ignored', says: `${forwardAuthHeader} from no trusted proxy`, address: request.ip }),
        }),
        isName: (actor, name) => folded(actor.name) === folded(name),
        enter: (name, from) => enterByProxy(given.db, given.clock, name, from),
      },
    }),
  })
  await app.register(multipart, { receive: (source, file) => receive(source, { data: given.config.data, ...file }), drop })
  await app.register(guard, {
    readOnlyBecause: () => readOnlyBecause(given.db),
    refused: (request, reason) =>
      note({
        kind: 'write-refused',
        says: `${request.method} ${loggedAddress(request.url).split('?')[0]?.slice(0, 120)}: ${reason}`,
        address: request.ip,
        householdId: request.signedIn ? request.actor.householdId : null,
        personId: request.signedIn ? request.actor.personId : null,
      }),
  })
  await app.register(keptPages, { writes: writesOf(given.db), newOnce: () => newId(given.clock) })
  await app.register(errorPages, { isFull, isDamage, isInUse })
  await app.register(metrics, { allows: config.metrics, gauges: gauges({ db: given.db, data: config.data }) })
  await app.register(api, { prefix: '/api' })
  registerPages(app)
  await app.register(buildPages)
  return app
}
