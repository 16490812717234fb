/** Where a rule can be broken, and how. Long because it is one list of ways to break. */
import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import ts from 'typescript'
import { shownOnly } from './shown-only.ts'

export type Mutant = {
  /** the rule's id, `check`, or the module a rule gets its figure from */
  readonly unit: string
  readonly file: string
  readonly line: number
  readonly what: string
  /** a value, a limit, a threshold of a rule, or anything that check.ts decides by: none of these may survive */
  readonly isFigure: boolean
  readonly start: number
  readonly end: number
  readonly text: string
}

const RULES = 'server/engine/rules'
const NOT_RULES = ['index', 'rule', 'check', 'sentence', 'figure']
/** Modules that rules get a figure from: tried only when named. */
const BEHIND = [
  'server/engine/conductor-limit.ts',
  'server/engine/ampacity.ts',
  'server/engine/way-doubts.ts',
  'server/engine/tables/fuse-re-rating.ts',
  'server/engine/tables/faa-switch-factors.ts',
]

export type Unit = { readonly name: string; readonly file: string; readonly isRule: boolean }

/** What is broken: every rule, then check.ts; or the one named. */
export function unitsOf(root: string, named: string | undefined): readonly Unit[] {
  const nameOf = (file: string) => file.slice(file.lastIndexOf('/') + 1, -'.ts'.length)
  const files = readdirSync(join(root, RULES)).map((name) => `${RULES}/${name}`)
  const rules = files
    .filter(
      (file) => file.endsWith('.ts') && !NOT_RULES.includes(nameOf(file)) && readFileSync(join(root, file), 'utf8').includes('defineRule('),
    )
    .sort()
  const units = [
    ...rules.map((file) => ({ name: nameOf(file), file, isRule: true })),
    { name: 'check', file: `${RULES}/check.ts`, isRule: false },
  ]
  if (named === undefined) return units
  return [...units, ...BEHIND.map((file) => ({ name: nameOf(file), file, isRule: false }))].filter((unit) => unit.name === named)
}

/** Every mutant of the units, in the order of their text. */
export function mutantsOf(root: string, units: readonly Unit[]): readonly Mutant[] {
  const { config } = ts.readConfigFile(join(root, 'tsconfig.json'), ts.sys.readFile)
  const { options } = ts.parseJsonConfigFileContent(config, ts.sys, root)
  const program = ts.createProgram({ rootNames: units.map((unit) => join(root, unit.file)), options })
  return units.flatMap((unit) => {
    const source = program.getSourceFile(join(root, unit.file))
    if (!source) throw new Error(`${unit.file} cannot be read`)
    return inFile({ root, unit, source, checker: program.getTypeChecker() })
  })
}

/** The source with the mutant in it. */
export function mutated(source: string, mutant: Mutant): string {
  return source.slice(0, mutant.start) + mutant.text + source.slice(mutant.end)
}

function inFile(given: { root: string; unit: Unit; source: ts.SourceFile; checker: ts.TypeChecker }): readonly Mutant[] {
  const { root, unit, source, checker } = given
  const isCheck = unit.name === 'check'
  const skipped = isCheck ? new Set<ts.Node>() : shownOnly(source, checker)
  const found: Mutant[] = []
  const add: Add = (node, text, what, isFigure) => {
    const start = node.getStart(source)
    const line = source.getLineAndCharacterOfPosition(start).line + 1
    const file = relative(root, source.fileName)
    found.push({ unit: unit.name, file, line, what, isFigure: isCheck || isFigure, start, end: node.getEnd(), text })
  }
  const visit = (node: ts.Node): void => {
    if (skipped.has(node) || ts.isTypeNode(node) || ts.isImportDeclaration(node)) return
    if (ts.isPropertyAssignment(node) || ts.isShorthandPropertyAssignment(node)) breakProperty({ node, source, checker, add })
    else if (ts.isSpreadAssignment(node)) breakSpread({ node, source, checker, add })
    else if (ts.isBinaryExpression(node)) breakOperator({ node, source, checker, add })
    else if (ts.isNumericLiteral(node)) breakNumber({ node, source, add, isCheck })
    else if (ts.isIfStatement(node)) {
      add(node.expression, 'true', `if (${short(node.expression, source)}): always`, false)
      add(node.expression, 'false', `if (${short(node.expression, source)}): never`, false)
    } else if (ts.isConditionalExpression(node) && !isEquality(node.condition))
      add(node.condition, `!(${node.condition.getText(source)})`, `${short(node.condition, source)} ? … : …: the other way`, false)
    else if (ts.isPrefixUnaryExpression(node) && node.operator === ts.SyntaxKind.ExclamationToken)
      add(node, `(${node.operand.getText(source)})`, `${short(node, source)}: ! dropped`, false)
    else if (ts.isPropertyAccessExpression(node)) breakCall({ node, source, add })
    ts.forEachChild(node, visit)
  }
  visit(source)
  return found
}

type Add = (node: ts.Node, text: string, what: string, isFigure: boolean) => void

const DROPPED = '...{}'
const times = (text: string, factor: number) => `((v) => (v == null ? v : v * ${factor}))(${text})`

/** A reading's own fields. A property is dropped by putting an empty spread in its place. */
function breakProperty(given: {
  node: ts.PropertyAssignment | ts.ShorthandPropertyAssignment
  source: ts.SourceFile
  checker: ts.TypeChecker
  add: Add
}): void {
  const { node, source, checker, add } = given
  const name = node.name.getText(source)
  const value = ts.isPropertyAssignment(node) ? node.initializer : node.name
  const text = value.getText(source)
  const set = (to: string, says: string) => add(node, `${name}: ${to}`, `${name}: ${short(value, source)}: ${says}`, true)
  const drop = () => add(node, DROPPED, `${name}: ${short(value, source)}: dropped`, true)
  const isNumber = isNumeric(checker.getTypeAtLocation(value))
  if (name === 'value' && isNumber) {
    if (text === '0') set('1.5', '1.5')
    else set(times(text, 1.5), '× 1.5')
    set('null', 'null')
  } else if (name === 'limit' && isNumber) {
    set(times(text, 1.5), '× 1.5')
    set(times(text, 0.67), '× 0.67')
  } else if (name === 'tightAbove' || name === 'overAbove') {
    if (isNumber) {
      set(times(text, 1.1), '× 1.1')
      set(times(text, 0.9), '× 0.9')
    }
    drop()
  } else if (name === 'sense') set(text.includes('at-least') ? `'at-most'` : `'at-least'`, 'flipped')
  else if (name === 'atMost' || name === 'fails' || name === 'holds' || name === 'overStands') {
    if (text !== 'false') drop()
    if (text !== 'true' && name !== 'atMost') set('true', 'true')
  } else if ((name === 'missing' || name === 'atLeastBecause') && text !== '[]') set('[]', 'emptied')
  else if (name === 'appliesTo' && ts.isArrayLiteralExpression(value))
    for (const kind of value.elements) add(kind, DROPPED.replace('{}', '[]'), `appliesTo: ${kind.getText(source)} dropped`, false)
}

/** What a called function brings into a reading, emptied field by field. */
function breakSpread(given: { node: ts.SpreadAssignment; source: ts.SourceFile; checker: ts.TypeChecker; add: Add }): void {
  const { node, source, checker, add } = given
  if (!ts.isCallExpression(node.expression)) return
  const type = checker.getTypeAtLocation(node.expression)
  for (const field of ['missing', 'atLeastBecause'])
    if (type.getProperty(field)) add(node, `${node.getText(source)}, ${field}: []`, `${field} of ${short(node, source)}: emptied`, true)
}

const SWAPS: Readonly<Record<string, readonly string[]>> = {
  '>': ['>=', '<'],
  '<': ['<=', '>'],
  '>=': ['>', '<'],
  '<=': ['<', '>'],
  '===': ['!=='],
  '!==': ['==='],
  '&&': ['||'],
  '||': ['&&'],
  '+': ['-'],
  '-': ['+'],
  '*': ['/'],
  '/': ['*'],
}

function breakOperator(given: { node: ts.BinaryExpression; source: ts.SourceFile; checker: ts.TypeChecker; add: Add }): void {
  const { node, source, checker, add } = given
  const operator = node.operatorToken.getText(source)
  if (operator === '+' && !isNumeric(checker.getTypeAtLocation(node))) return
  if (node.right.getText(source) === 'AT_LIMIT') add(node, node.left.getText(source), `${short(node, source)}: AT_LIMIT dropped`, true)
  const [left, right] = [node.left.getText(source), node.right.getText(source)]
  // Brackets, since && and || bind differently.
  for (const other of SWAPS[operator] ?? [])
    add(node, `((${left}) ${other} (${right}))`, `${short(node, source)}: ${operator} → ${other}`, false)
}

/** Whole numbers of check.ts by one, all others by half. 0, 1 and 2 are no published figure. What is there for float noise becomes 1. */
function breakNumber(given: { node: ts.NumericLiteral; source: ts.SourceFile; add: Add; isCheck: boolean }): void {
  const { node, source, add, isCheck } = given
  const { parent } = node
  if (ts.isElementAccessExpression(parent)) return
  const isBroken = ts.isPropertyAssignment(parent) && ['value', 'limit', 'tightAbove', 'overAbove'].includes(parent.name.getText(source))
  if (isBroken) return
  const value = Number(node.text)
  const others =
    value !== 0 && value < 1e-6
      ? [1]
      : isCheck
        ? nearby(node, value)
        : value <= 2 && Number.isInteger(value)
          ? [value + 1]
          : [value * 1.5, value * 0.67]
  const [around, sign] = ts.isPrefixUnaryExpression(parent) ? [parent.parent, '-'] : [parent, '']
  for (const other of others)
    add(
      node,
      `(${other})`,
      `${short(around, source)}: ${sign}${node.text} → ${sign}${Number(other.toPrecision(3))}`,
      value !== 0 && value !== 1 && value !== 2,
    )
}

/** Further from 0 a sign stays the same sign. */
function nearby(node: ts.NumericLiteral, value: number): readonly number[] {
  if (!Number.isInteger(value)) return [value * 1.1, value * 0.9]
  if (value === 0) return [1]
  const isSign = value === 1 && (ts.isPrefixUnaryExpression(node.parent) || ts.isConditionalExpression(node.parent))
  return isSign ? [0] : [value - 1, value + 1]
}

const NAMES: Readonly<Record<string, string>> = { some: 'every', every: 'some', max: 'min', min: 'max' }

function breakCall(given: { node: ts.PropertyAccessExpression; source: ts.SourceFile; add: Add }): void {
  const { node, source, add } = given
  const name = node.name.getText(source)
  const other = NAMES[name]
  if (other && ts.isCallExpression(node.parent)) add(node.name, other, `${short(node.parent, source)}: ${name} → ${other}`, false)
}

function isNumeric(type: ts.Type): boolean {
  const parts = type.isUnion() ? type.types : [type]
  const known = parts.filter((part) => (part.flags & (ts.TypeFlags.Null | ts.TypeFlags.Undefined)) === 0)
  return known.length > 0 && known.every((part) => (part.flags & ts.TypeFlags.NumberLike) !== 0)
}

/** Turned about already by its own operator. */
function isEquality(node: ts.Expression): boolean {
  return ts.isBinaryExpression(node) && /^[!=]==$/.test(node.operatorToken.getText())
}

function short(node: ts.Node, source: ts.SourceFile): string {
  const text = node.getText(source).replace(/\s+/g, ' ')
  return text.length > 70 ? `${text.slice(0, 69)}…` : text
}
