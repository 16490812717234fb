/** What requests and the application carry besides the framework's own. */
import type { ApiDocument } from './api/description.ts'
import type { Config } from './config.ts'
import type { Drawings } from './drawing/drawings.ts'
import type { Challenges } from './records/challenges.ts'
import type { Clock } from './records/clock.ts'
import type { Actor } from './records/contract.ts'
import type { Db } from './records/database.ts'
import type { SignInLimits } from './records/sign-in-limits.ts'
import type { Outbound } from './web/outbound.ts'
import type { Provider } from './web/provider.ts'

/** A method and a pattern that are answered. */
export type Address = { readonly method: string; readonly url: string }

declare module 'fastify' {
  interface FastifyInstance {
    /** everything that is answered, as it was registered */
    answered: readonly Address[]
    db: Db
    clock: Clock
    config: Config
    signInLimits: SignInLimits
    challenges: Challenges
    /** what programs can ask for, described */
    apiDocument: () => ApiDocument
    /** the one way that anything is sent to another machine */
    outbound: Outbound
    /** wiring drawings, laid out in a thread of their own */
    drawings: Drawings
    /** null where nobody signs in by a provider of identities */
    provider: Provider | null
    /** the folder that holds the backups */
    backups: string
    /** null where nobody can start it anew from here */
    restart: (() => void) | null
    /** one-time code for setting up from another machine; null once there is an owner */
    setUpCode: string | null
  }
  interface FastifyRequest {
    actor: Actor
    signedIn: boolean
    formToken: string
    /** the password was given in this session not long ago */
    isConfirmed: boolean
    sessionToken: string | null
    /** signed out, and the cookie that every page sets did not come back */
    cameWithoutCookie: boolean
  }
}
