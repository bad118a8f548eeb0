// A worker that answers as the desk does, with findings whose number and content a test decides: what
// the page does with them is looked at, not how they come about.
let document = null;
let past = [];
let future = [];
const SEVERITIES = ['error', 'warning', 'note'];

const outcome = (changed) => ({ text: changed ? JSON.stringify(document) : null, rects: [], undo: past.at(-1)?.label ?? null, redo: future.at(-1)?.label ?? null, revision: past.length, saved: past.length === 0 });

function findings() {
  const count = document.test_findings ?? 3;
  const claim = document.claims[0]?.id;
  const all = Array.from({ length: count }, (_, index) => {
    const severity = SEVERITIES[Math.floor((index * 3) / count)];
    return {
      rule: ['claim-without-argument', 'few-readings', 'unused-evidence'][index % 3], severity, about: `claim:${claim} ${index}`,
      place: index % 3 === 2 ? { evidence: document.evidence[0].id } : { claim, region: document.regions[2].id, anchor: document.evidence[0].anchor },
      message: document.test_message ?? `Finding ${index}${index % 7 === 0 ? ', of which there is more to say than fits into one line of the page beside the object' : ''}.`,
      settles: 'An analysis.', source: 'this test', measures: index % 5 === 0 ? [{ name: 'distance', value: 12.4, unit: 'mm' }] : [],
    };
  });
  const aside = document.set_aside ?? [];
  const stands = (finding) => aside.find(({ rule, about }) => rule === finding.rule && about === finding.about);
  return {
    findings: all.filter((finding) => !stands(finding)),
    set_aside: all.filter(stands).map((finding) => ({ finding, set_aside: stands(finding) })),
    not_examined: [{ message: 'The layer "irr" was not examined.', key: 'not-examined.test' }],
  };
}

function side(state, region) {
  const claims = document.claims.filter((claim) => claim.states?.includes(state) && claim.regions?.includes(region));
  const pigment = document.palette.find(({ id }) => id === claims[0]?.pigment);
  return {
    claims: claims.map(({ id }) => id), pigments: claims.flatMap((claim) => claim.pigment ?? []), over: [], finishes: [],
    certainties: claims.map(({ certainty }) => certainty), evidence: claims.flatMap(({ evidence }) => evidence ?? []),
    authors: claims.flatMap(({ author }) => author ?? []), lab_d50: pigment?.lab_d50 ?? null,
  };
}

function compare({ left, right }) {
  return document.regions.map((region, index) => ({
    region: region.id, part: null, area_cm2: 100 - index, anchor: null, left: side(left, region.id), right: side(right, region.id), delta_e_2000: index % 2 ? 4.25 : null, looks_different: true,
  })).filter((row) => row.left.claims.length + row.right.claims.length > 0);
}

/** RFC 6901, as far as these tests go. */
function apply(steps) {
  const next = structuredClone(document);
  for (const { op, path, value } of steps) {
    const keys = path.slice(1).split('/');
    const last = keys.pop();
    const holder = keys.reduce((at, key) => at[key], next);
    if (op === 'set') holder[last] = value;
    else if (op === 'insert') holder.splice(last === '-' ? holder.length : Number(last), 0, value);
    else if (Array.isArray(holder)) holder.splice(Number(last), 1);
    else delete holder[last];
  }
  return next;
}

const ANSWERS = {
  open: ({ document: bytes }) => { document = JSON.parse(new TextDecoder().decode(bytes)); return null; },
  document: () => JSON.stringify(document),
  audit: () => JSON.stringify(findings()),
  compare: (values) => JSON.stringify(compare(values)),
  hints: ({ evidence }) => {
    const found = document.evidence.find(({ id }) => id === evidence)?.elements ?? [];
    const azurite = { pigment: 'azurite', name: 'azurite', why: 'told by Cu', later: false, source: 'this test' };
    return JSON.stringify(found.includes('Cu') ? { sentence: '', consistent_with: [azurite], excluded: [], remarks: [] } : null);
  },
  areas: () => JSON.stringify({ regions: document.regions.map(({ number }) => ({ number, area_m2: number * 1e-4 })), unassigned_m2: 5e-3 }),
  files: () => '[]',
  to_save: () => ({ mark: past.length, revision: 1, text: JSON.stringify(document), maps: [] }),
  draft: () => ({ text: JSON.stringify(document), maps: [] }),
  apply: ({ steps, label }) => {
    const next = apply(steps);
    past.push({ label, document });
    future = [];
    document = next;
    return outcome(true);
  },
  undo: () => {
    const step = past.pop();
    future.push({ label: step.label, document });
    document = step.document;
    return outcome(true);
  },
  redo: () => {
    const step = future.pop();
    past.push({ label: step.label, document });
    document = step.document;
    return outcome(true);
  },
};

self.addEventListener('message', ({ data: { id, method, values } }) => {
  try {
    // What is drawn is told to the page, which a test reads.
    if (!ANSWERS[method]) {
      new BroadcastChannel('drawn').postMessage({ method, values });
      past.push({ label: values.label ?? method, document });
      future = [];
      self.postMessage({ id, result: outcome(false) });
    } else self.postMessage({ id, result: ANSWERS[method](values) });
  } catch (error) {
    self.postMessage({ id, error: { message: error.message } });
  }
});
self.postMessage({ id: 0 });
