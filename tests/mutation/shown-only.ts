/** What in a rule's file only ends up in words: breaking it changes no verdict. */
import ts from 'typescript'

const IN_WORDS = new Set('id title why formula needs sources remedy subject statement limitIs unit worked limits'.split(' '))

/** Properties in words, templates, and all that nothing but these uses. */
export function shownOnly(source: ts.SourceFile, checker: ts.TypeChecker): ReadonlySet<ts.Node> {
  const shown = new Set<ts.Node>()
  const declared: { readonly node: ts.Node; readonly symbol: ts.Symbol }[] = []
  const uses = new Map<ts.Symbol, ts.Node[]>()
  const visit = (node: ts.Node): void => {
    if (isInWords(node)) shown.add(node)
    if ((ts.isVariableDeclaration(node) || ts.isFunctionDeclaration(node)) && node.name && ts.isIdentifier(node.name)) {
      const symbol = checker.getSymbolAtLocation(node.name)
      if (symbol) declared.push({ node, symbol })
    } else if (ts.isIdentifier(node)) {
      const symbol = ts.isShorthandPropertyAssignment(node.parent)
        ? checker.getShorthandAssignmentValueSymbol(node.parent)
        : checker.getSymbolAtLocation(node)
      if (symbol) uses.set(symbol, [...(uses.get(symbol) ?? []), node])
    }
    ts.forEachChild(node, visit)
  }
  visit(source)
  // What only shown things use is shown only, and so on until nothing is added.
  for (let before = -1; before < shown.size; ) {
    before = shown.size
    for (const { node, symbol } of declared) {
      const others = (uses.get(symbol) ?? []).filter((use) => !isWithin(use, new Set([node])))
      if (others.length > 0 && others.every((use) => isWithin(use, shown))) shown.add(node)
    }
  }
  return shown
}

function isInWords(node: ts.Node): boolean {
  if (ts.isTemplateExpression(node)) return true
  if (ts.isPropertyAssignment(node) || ts.isShorthandPropertyAssignment(node) || ts.isMethodDeclaration(node))
    return IN_WORDS.has(node.name.getText())
  if (!ts.isSpreadAssignment(node)) return false
  // `...(next ? { remedy } : {})`
  const literals: ts.ObjectLiteralExpression[] = []
  const collect = (inner: ts.Node): void =>
    ts.isObjectLiteralExpression(inner) ? void literals.push(inner) : ts.forEachChild(inner, collect)
  collect(node.expression)
  return (
    literals.length > 0 &&
    literals.every((one) => one.properties.every((property) => property.name && IN_WORDS.has(property.name.getText()))) &&
    !ts.isCallExpression(node.expression)
  )
}

function isWithin(node: ts.Node, outer: ReadonlySet<ts.Node>): boolean {
  for (let at: ts.Node | undefined = node; at; at = at.parent) if (outer.has(at)) return true
  return false
}
