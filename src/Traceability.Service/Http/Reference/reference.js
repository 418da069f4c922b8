// Shows /openapi.json. Text is set as text, never as markup, so nothing in the document can run.
'use strict';

const methods = ['get', 'post', 'put', 'patch', 'delete'];
let components = {};

function make(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    element.setAttribute(key, value);
  }
  element.append(...children.filter((c) => c !== null && c !== undefined && c !== ''));
  return element;
}

const nameOf = (schema) => schema.$ref?.split('/').pop();
const resolve = (schema) => (schema?.$ref ? components[nameOf(schema)] ?? {} : schema ?? {});

// A link to a schema, or its type in words.
function typeOf(schema) {
  if (!schema) return 'any';
  if (schema.$ref) return make('a', { href: `#schema-${nameOf(schema)}` }, nameOf(schema));
  const choices = schema.oneOf ?? schema.anyOf ?? schema.allOf;
  if (choices) {
    const all = make('span');
    choices.forEach((choice, index) => all.append(index ? ' or ' : '', typeOf(choice)));
    return all;
  }
  const types = [schema.type ?? (schema.enum ? 'string' : 'any')].flat();
  const text = types.map((t) => (t === 'null' ? 'none' : t)).join(' or ');
  if (types.includes('array')) return make('span', {}, 'array of ', typeOf(schema.items));
  if (schema.additionalProperties && typeof schema.additionalProperties === 'object') {
    return make('span', {}, 'map of ', typeOf(schema.additionalProperties));
  }
  return make('span', {}, schema.format ? `${text} (${schema.format})` : text);
}

function limitsOf(schema) {
  const s = resolve(schema);
  const limits = [];
  if (s.enum) limits.push(`one of ${s.enum.join(', ')}`);
  if (s.const !== undefined) limits.push(`always ${s.const}`);
  if (s.minimum !== undefined) limits.push(`at least ${s.minimum}`);
  if (s.maximum !== undefined) limits.push(`at most ${s.maximum}`);
  if (s.maxLength !== undefined) limits.push(`at most ${s.maxLength} characters`);
  if (s.pattern) limits.push(`pattern ${s.pattern}`);
  if (s.default !== undefined) limits.push(`default ${s.default}`);
  return limits.join('; ');
}

function table(head, rows) {
  const cells = (row) => make('tr', {}, ...row.map((cell) => make('td', {}, ...[cell].flat())));
  const columns = make('tr', {}, ...head.map((h) => make('th', { scope: 'col' }, h)));
  return make('div', { class: 'scroll', tabindex: '0', role: 'group', 'aria-label': head.join(', ') },
    make('table', {}, make('thead', {}, columns), make('tbody', {}, ...rows.map(cells))));
}

function described(schema, description) {
  const limits = limitsOf(schema);
  const text = description ?? resolve(schema).description;
  return [text ?? '', limits ? make('div', { class: 'faint' }, limits) : ''];
}

function membersOf(schema) {
  const required = new Set(schema.required ?? []);
  const rows = Object.entries(schema.properties ?? {}).map(([name, member]) => [
    [make('code', {}, name), required.has(name) ? '' : make('span', { class: 'faint' }, ' optional')],
    typeOf(member),
    described(member),
  ]);
  return rows.length ? table(['Member', 'Type', 'Meaning'], rows) : null;
}

// An example made from the schema, where the document gives none.
function exampleOf(schema, depth = 0) {
  const s = resolve(schema);
  if (s.example !== undefined) return s.example;
  if (s.examples?.length) return s.examples[0];
  if (s.const !== undefined) return s.const;
  if (s.default !== undefined) return s.default;
  if (s.enum) return s.enum[0];
  const choice = (s.oneOf ?? s.anyOf ?? s.allOf)?.[0];
  if (choice) return depth > 6 ? {} : exampleOf(choice, depth + 1);
  const type = [s.type].flat().find((t) => t !== 'null');
  if (type === 'array') return depth > 6 ? [] : [exampleOf(s.items, depth + 1)];
  if (type === 'object' || s.properties) {
    if (depth > 6) return {};
    return Object.fromEntries(Object.entries(s.properties ?? {}).map(([name, member]) => [name, exampleOf(member, depth + 1)]));
  }
  if (type === 'integer' || type === 'number') return s.minimum ?? 1;
  if (type === 'boolean') return true;
  return { 'date-time': '2026-03-02T08:15:00+01:00', date: '2026-03-02', uuid: '0b7c1b1e-7d0f-4f1a-9a57-2d6c3c0e9a11', duration: 'PT10M' }[s.format] ?? 'text';
}

function contentOf(content, withExample) {
  return Object.entries(content ?? {}).flatMap(([media, body]) => {
    const example = body.example ?? Object.values(body.examples ?? {})[0]?.value ?? (withExample ? exampleOf(body.schema) : undefined);
    const text = typeof example === 'string' ? example : JSON.stringify(example, null, 2);
    return [
      make('p', {}, make('code', {}, media), ': ', typeOf(body.schema)),
      example === undefined ? null : make('details', {}, make('summary', {}, 'Example'), make('pre', { tabindex: '0' }, text)),
    ];
  });
}

function operationOf(path, method, operation) {
  const article = make('article', { id: operation.operationId, 'data-words': `${method} ${path} ${operation.summary ?? ''} ${operation.operationId}`.toLowerCase() });
  article.append(
    make('h3', {}, make('span', { class: 'method' }, method.toUpperCase()), make('span', { class: 'path' }, path)),
    make('p', {}, make('strong', {}, operation.summary ?? '')));
  if (operation.description) article.append(make('p', {}, operation.description));
  article.append(make('p', { class: 'faint' }, operation.security?.length ? 'Needs a key.' : 'Open: needs no key.'));
  if (operation.parameters?.length) {
    article.append(make('h4', {}, 'Parameters'), table(['Name', 'In', 'Type', 'Meaning'], operation.parameters.map((p) => [
      [make('code', {}, p.name), p.required ? '' : make('span', { class: 'faint' }, ' optional')], p.in, typeOf(p.schema), described(p.schema, p.description)])));
  }
  if (operation.requestBody) {
    article.append(make('h4', {}, 'Body'), ...contentOf(operation.requestBody.content, true).filter(Boolean));
  }
  article.append(make('h4', {}, 'Answers'), table(['Status', 'Meaning', 'Content'], Object.entries(operation.responses ?? {}).map(([status, response]) => [
    make('code', {}, status), response.description ?? '', contentOf(response.content, status < '300').filter(Boolean)])));
  return article;
}

function show(api) {
  components = api.components?.schemas ?? {};
  document.getElementById('title').textContent = `${api.info.title}: API reference`;
  document.getElementById('about').textContent = api.info.description ?? '';
  const groups = new Map((api.tags ?? []).map((tag) => [tag.name, []]));
  for (const [path, item] of Object.entries(api.paths)) {
    for (const method of methods.filter((m) => item[m])) {
      const tag = item[method].tags?.[0] ?? 'Other';
      groups.set(tag, [...(groups.get(tag) ?? []), [path, method, item[method]]]);
    }
  }
  const main = document.getElementById('content');
  const nav = document.getElementById('contents');
  main.replaceChildren();
  for (const [tag, operations] of groups) {
    main.append(make('section', { 'aria-label': tag }, make('h2', {}, tag), ...operations.map((o) => operationOf(...o))));
    nav.append(make('h2', {}, tag), make('ul', {}, ...operations.map(([path, method, operation]) => make('li', {},
      make('a', { href: `#${operation.operationId}` }, make('span', { class: 'method' }, method.toUpperCase()), path)))));
  }
  const schemas = make('section', { 'aria-label': 'Schemas' }, make('h2', {}, 'Schemas'));
  for (const [name, schema] of Object.entries(components)) {
    schemas.append(make('article', { id: `schema-${name}`, 'data-words': name.toLowerCase() },
      make('h3', {}, name), make('p', {}, ...described(schema)), membersOf(schema) ?? make('p', {}, typeOf(schema))));
  }
  main.append(schemas);
  document.getElementById('filter').addEventListener('input', (event) => filter(event.target.value));
  if (location.hash) document.getElementById(decodeURIComponent(location.hash.slice(1)))?.scrollIntoView();
}

function filter(text) {
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  for (const article of document.querySelectorAll('article')) {
    article.hidden = !words.every((word) => article.dataset.words.includes(word));
    const entry = document.querySelector(`nav a[href="#${CSS.escape(article.id)}"]`);
    if (entry) entry.parentElement.hidden = article.hidden;
  }
}

fetch('/openapi.json')
  .then((answer) => (answer.ok ? answer.json() : Promise.reject(new Error(`status ${answer.status}`))))
  .then(show)
  .catch((error) => { document.getElementById('state').textContent = `The document could not be loaded: ${error.message}. Reload the page to try again.`; });
