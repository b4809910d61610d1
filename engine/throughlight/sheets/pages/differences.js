// How two sets' readings differ, replicate by replicate; as sheets/differences.py.

// Log2 of a product of means, each to the power +1 or −1, with the spread of what the replicates don't share.
function logRatio(terms, unit, t) {
  const means = terms.map(([values]) => meanOf(values).value);
  if (!means.every((mean) => mean > 0)) return null;
  const ratio = terms.reduce((product, [, power], at) => product * means[at] ** power, 1);
  const apart = meanOf(
    terms[0][0].map((_, r) => terms.reduce((sum, [values, power], at) => sum + (power * values[r]) / means[at], 0)),
  );
  return inStops({ value: ratio, error: ratio * apart.error }, unit, t);
}

function independent(one, other) {
  if (one === null || other === null || endless(one.value) || endless(other.value)) return null;
  const more = other.value - one.value;
  return {
    value: more,
    low: more - Math.hypot(other.value - other.low, one.high - one.value),
    high: more + Math.hypot(other.high - other.value, one.value - one.low),
  };
}

function differences(a, b, t) {
  const slower = a.iso / b.iso,
    all = (...terms) => (terms.every(([part]) => part !== null) ? terms : null);
  const lights = ({ subject, backdrop, veil, stray }) => ({
    subject: subject === null ? null : subject.replicates,
    backdrop: backdrop === null ? null : backdrop.replicates,
    veil,
    stray: stray.replicates,
  });
  const one = lights(a),
    other = lights(b);
  const more = (name, unit) => {
    const terms = all([other[name], 1], [one[name], -1]);
    return terms === null ? null : logRatio(terms, unit, t);
  };
  const four = all([other.subject, 1], [other.backdrop, -1], [one.subject, -1], [one.backdrop, 1]);
  const worst = ({ backdrop }) => (backdrop === null ? null : backdrop.worst.exposure);
  return [
    more("subject", slower),
    more("backdrop", slower),
    independent(worst(a), worst(b)),
    four === null ? null : logRatio(four, 1, t),
    more("veil", slower),
    more("stray", 1),
  ];
}

function figuresOf({ subject, backdrop, stray }) {
  const away = "not in the frame";
  return [
    subject === null ? away : stopsWords(subject.mean),
    backdrop === null ? away : stopsWords(backdrop.mean),
    backdrop === null ? away : stopsWords(backdrop.worst.exposure),
    backdrop === null ? away : stopsWords(backdrop.underSubject, false),
    stopsWords(stray.veil),
    amountWords(stray.outside, "lx·s"),
  ];
}
