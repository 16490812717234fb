/** The route table: every page, in one list. */
import type { FastifyInstance } from 'fastify'
import * as account from './account/routes.ts'
import * as apiGuide from './api-guide/routes.ts'
import * as archive from './archive/routes.ts'
import * as buildPages from './b/routes.ts'
import * as branch from './branch/routes.ts'
import * as chain from './chain/routes.ts'
import * as compare from './compare/routes.ts'
import * as compareParts from './compare-parts/routes.ts'
import * as components from './components/routes.ts'
import * as confirm from './confirm/routes.ts'
import * as copy from './copy/routes.ts'
import * as costs from './costs/routes.ts'
import * as currentPicture from './current-picture/routes.ts'
import * as cutList from './cut-list/routes.ts'
import * as decisions from './decisions/routes.ts'
import * as due from './due/routes.ts'
import * as entry from './entry/routes.ts'
import * as feeds from './feeds/routes.ts'
import * as finding from './finding/routes.ts'
import * as findings from './findings/routes.ts'
import * as firstRun from './first-run/routes.ts'
import * as fuseBox from './fuse-box/routes.ts'
import * as fuseChart from './fuse-chart/routes.ts'
import * as handoverFile from './handover-file/routes.ts'
import * as health from './health/routes.ts'
import * as identity from './identity/routes.ts'
import * as importPage from './import/routes.ts'
import * as insert from './insert/routes.ts'
import * as inspections from './inspections/routes.ts'
import * as joinPage from './join/routes.ts'
import * as journal from './journal/routes.ts'
import * as labels from './labels/routes.ts'
import * as life from './life/routes.ts'
import * as log from './log/routes.ts'
import * as login from './login/routes.ts'
import * as marks from './marks/routes.ts'
import * as newPassword from './new-password/routes.ts'
import * as onPaper from './on-paper/routes.ts'
import * as operations from './operations/routes.ts'
import * as part from './part/routes.ts'
import * as people from './people/routes.ts'
import * as photo from './photo/routes.ts'
import * as rescue from './rescue/routes.ts'
import * as rules from './rules/routes.ts'
import * as search from './search/routes.ts'
import * as security from './security/routes.ts'
import * as settings from './settings/routes.ts'
import * as shelf from './shelf/routes.ts'
import * as toDo from './to-do/routes.ts'
import * as tokens from './tokens/routes.ts'
import * as trash from './trash/routes.ts'
import * as vehicle from './vehicle/routes.ts'
import * as vehicles from './vehicles/routes.ts'
import * as webhooks from './webhooks/routes.ts'
import * as wiringDrawing from './wiring-drawing/routes.ts'

const pages = [
  health,
  firstRun,
  login,
  vehicles,
  vehicle,
  copy,
  findings,
  finding,
  compare,
  wiringDrawing,
  currentPicture,
  cutList,
  components,
  branch,
  life,
  chain,
  insert,
  marks,
  toDo,
  due,
  feeds,
  log,
  entry,
  journal,
  trash,
  search,
  shelf,
  part,
  compareParts,
  inspections,
  decisions,
  costs,
  buildPages,
  identity,
  rules,
  importPage,
  fuseBox,
  onPaper,
  fuseChart,
  labels,
  handoverFile,
  settings,
  operations,
  rescue,
  archive,
  photo,
  people,
  joinPage,
  newPassword,
  account,
  confirm,
  security,
  tokens,
  webhooks,
  apiGuide,
]

export function registerPages(app: FastifyInstance): void {
  for (const page of pages) page.register(app)
}
