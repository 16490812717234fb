/** The route table: every page, in one list. */
import type { FastifyInstance } from 'fastify'
import * as branch from './branch/routes.ts'
import * as chain from './chain/routes.ts'
import * as components from './components/routes.ts'
import * as due from './due/routes.ts'
import * as entry from './entry/routes.ts'
import * as feeds from './feeds/routes.ts'
import * as finding from './finding/routes.ts'
import * as findings from './findings/routes.ts'
import * as firstRun from './first-run/routes.ts'
import * as fuseBox from './fuse-box/routes.ts'
import * as health from './health/routes.ts'
import * as importPage from './import/routes.ts'
import * as insert from './insert/routes.ts'
import * as journal from './journal/routes.ts'
import * as log from './log/routes.ts'
import * as login from './login/routes.ts'
import * as part from './part/routes.ts'
import * as rules from './rules/routes.ts'
import * as shelf from './shelf/routes.ts'
import * as toDo from './to-do/routes.ts'
import * as vehicle from './vehicle/routes.ts'
import * as vehicles from './vehicles/routes.ts'

const pages = [
  health,
  firstRun,
  login,
  vehicles,
  vehicle,
  findings,
  finding,
  components,
  branch,
  chain,
  insert,
  toDo,
  due,
  feeds,
  log,
  entry,
  journal,
  shelf,
  part,
  rules,
  importPage,
  fuseBox,
]

export function registerPages(app: FastifyInstance): void {
  for (const page of pages) page.register(app)
}
