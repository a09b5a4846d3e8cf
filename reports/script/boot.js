// Draws every chart of the page from options that the page carries as JSON, makes its
// tables sortable and copyable, then marks the page done. Options are data: where the chart library wants a function,
// they hold a name, and only the names in the two registries below mean anything.
(function () {
  'use strict';
  // What the script says, and how the page's language writes numbers, comes with the page.
  var WORDS = window.afterfitWords || JSON.parse(document.getElementById('words-data').textContent);
  var INK = '#222', GREY = '#6b6b6b', SERVICE = '#0072B2', BEYOND = '#D55E00';
  var printing = false; // paper sets rows closer
  var PAPER = 676; // the width of A4 between its margins, which Letter exceeds
  var SHEET = 880; // the height of a chart that fits a sheet of A4 or Letter
  var WORDY = 190; // about what a figure's title, sentence, caption and folded table take
  var NARROW = 480; // below this width a row's figure stands under its name
  var FONT = 'system-ui, Segoe UI, Helvetica Neue, Arial, sans-serif'; // without quotation marks, which the library writes into attributes as they are

  function text(s, x, y, style) {
    var all = { text: s, x: x, y: y, fill: INK, font: '13px ' + FONT, verticalAlign: 'middle' };
    Object.keys(style || {}).forEach(function (k) { all[k] = style[k]; });
    return { type: 'text', style: all, silent: true };
  }

  function line(x1, y1, x2, y2, style) {
    return { type: 'line', shape: { x1: x1, y1: y1, x2: x2, y2: y2 }, style: style };
  }

  // mark draws the point: the kind shows as shape, not as colour alone.
  function mark(kind, x, y) {
    if (kind === 'beyond') {
      return { type: 'polygon', shape: { points: [[x, y - 7], [x + 7, y], [x, y + 7], [x - 7, y]] }, style: { fill: BEYOND, stroke: '#fff', lineWidth: 1 } };
    }
    if (kind === 'rest') {
      return { type: 'circle', shape: { cx: x, cy: y, r: 5 }, style: { fill: '#fff', stroke: GREY, lineWidth: 2 } };
    }
    return { type: 'circle', shape: { cx: x, cy: y, r: 5.5 }, style: { fill: SERVICE, stroke: '#fff', lineWidth: 1 } };
  }

  function colour(kind) { return kind === 'beyond' ? BEYOND : kind === 'rest' ? GREY : SERVICE; }

  // Each drawing gets its series' data and returns what the library calls per item.
  var drawings = {
    // rows: one row each with its name above the interval and the figure at the right.
    // value: [row, value, low, high, text, kind]; low and high may be null.
    rows: function (data) {
      return function (params, api) {
        var d = data[params.dataIndex], v = d.value, box = params.coordSys, out = [];
        var at = api.coord([v[1] === null ? 0 : v[1], v[0]]), y = at[1] + 9, right = box.x + box.width;
        var narrow = box.width < NARROW, room = box.width - (narrow ? 4 : 7.2 * v[4].length + 16);
        var small = narrow && printing ? '11px ' + FONT : '13px ' + FONT, lead = printing ? 17 : 21;
        out.push(text(d.name, box.x + 4, y - (narrow ? lead + (printing ? 14 : 17) : 21), { width: Math.max(60, room), overflow: 'truncate', font: small, stroke: '#fff', lineWidth: 3 }));
        out.push(narrow ? text(v[4], box.x + 4, y - lead, { fill: GREY, font: small, stroke: '#fff', lineWidth: 3 }) : text(v[4], right, y - 21, { align: 'right' }));
        if (v[2] !== null && v[3] !== null) {
          var a = api.coord([v[2], v[0]])[0], b = api.coord([v[3], v[0]])[0];
          var pen = { stroke: colour(v[5]), lineWidth: v[5] === 'rest' ? 2 : 3, lineDash: v[5] === 'rest' ? [4, 3] : null };
          out.push(line(a, y, b, y, pen), line(a, y - 4, a, y + 4, { stroke: pen.stroke, lineWidth: 2 }), line(b, y - 4, b, y + 4, { stroke: pen.stroke, lineWidth: 2 }));
        }
        if (v[1] !== null) { out.push(mark(v[5], at[0], y)); }
        return { type: 'group', children: out };
      };
    },
    // rule: a dashed upright line at value[0] with its name on top.
    rule: function (data) {
      return function (params, api) {
        var d = data[params.dataIndex], box = params.coordSys, x = api.coord([d.value[0], 0])[0];
        var late = x > box.x + box.width / 2;
        return { type: 'group', children: [
          line(x, box.y - 4, x, box.y + box.height, { stroke: INK, lineWidth: 1, lineDash: [2, 3] }),
          text(d.name, late ? x + 2 : x - 2, box.y - 13, { align: late ? 'right' : 'left', fill: GREY })
        ] };
      };
    },
    // band: the area between low and high, drawn once. value: [x, low, high].
    band: function (data, series) {
      return function (params, api) {
        var up = [], down = [], step = series.step === 'end';
        data.forEach(function (d, i) {
          var hi = api.coord([d.value[0], d.value[2]]), lo = api.coord([d.value[0], d.value[1]]);
          if (step && i > 0) { up.push([hi[0], up[up.length - 1][1]]); down.push([lo[0], down[down.length - 1][1]]); }
          up.push(hi); down.push(lo);
        });
        return { type: 'polygon', shape: { points: up.concat(down.reverse()) }, style: { fill: series.color || SERVICE, opacity: 0.16 }, silent: true };
      };
    },
    // tags: a curve's name at the right edge, after a piece of its line, at the height
    // where the curve ends; names that would touch move apart.
    // value: [x, y, colour, width, whether dashed].
    tags: function (data) {
      var LEAD = 16;
      return function (params, api) {
        var box = params.coordSys, right = box.x + box.width;
        var places = data.map(function (d, i) { return { at: i, y: api.coord(d.value)[1] }; }).sort(function (a, b) { return a.y - b.y; });
        places.forEach(function (p, i) { if (i > 0) { p.y = Math.max(p.y, places[i - 1].y + LEAD); } });
        var past = places[places.length - 1].y - (box.y + box.height);
        if (past > 0) { places.forEach(function (p) { p.y -= past; }); }
        var d = data[params.dataIndex], y = places.filter(function (p) { return p.at === params.dataIndex; })[0].y;
        return { type: 'group', children: [
          line(right + 4, y, right + 24, y, { stroke: d.value[2], lineWidth: d.value[3], lineDash: d.value[4] ? [5, 3] : null }),
          text(d.name, right + 28, y)
        ] };
      };
    }
  };

  // local writes a number of an axis or a tip as the page's language does.
  function local(n) {
    var parts = String(Math.round(n * 1e9) / 1e9).split('.');
    parts[0] = parts[0].replace(/(\d)(?=(?:\d{3})+$)/g, '$1' + WORDS.thousands);
    return parts.join(WORDS.decimal);
  }

  var tips = {
    item: function (p) { return p.name + '\n' + (Array.isArray(p.value) ? p.value[4] : p.value); },
    day: function (list) {
      return list.reduce(function (said, p) {
        return p.seriesType === 'line' ? said + '\n' + p.seriesName + ': ' + WORDS.percent.replace('{n}', local(Math.round(p.value[1] * 10) / 10)) : said;
      }, WORDS.day.replace('{day}', local(list[0].value[0])));
    }
  };

  // known looks a name up and accepts nothing that it did not register itself.
  function known(registry, name) { return Object.prototype.hasOwnProperty.call(registry, name) ? registry[name] : null; }

  function prepare(option) {
    option.animation = false;
    option.textStyle = { fontFamily: FONT, color: INK };
    option.tooltip = { renderMode: 'richText', confine: true, trigger: option.tooltip && option.tooltip.trigger || 'item',
      formatter: known(tips, option.tooltip && option.tooltip.formatter) || undefined };
    option.xAxis.concat(option.yAxis).forEach(function (axis) {
      axis.axisTick = { show: false };
      if (axis.type === 'value' && axis.axisLabel.show) { axis.axisLabel.formatter = local; }
    });
    option.series.forEach(function (s) {
      if (s.type !== 'custom') { return; }
      var drawing = known(drawings, s.renderItem);
      if (!drawing) { throw new Error('no drawing of that name'); }
      var once = s.renderItem === 'band';
      s.renderItem = drawing(s.data, s);
      if (once) { s.data = s.data.slice(0, 1); } // the library asks for a drawing per item
      s.clip = false;
    });
    return option;
  }

  // tall is the height a chart wants: rows need a second line of text where it is narrow.
  function tall(high, option, width) {
    var rows = 0;
    option.series.forEach(function (s) { if (s.rows || s.renderItem === 'rows') { s.rows = true; rows = s.data.length; } });
    if (printing && rows === 0) { return 0.75 * high; }
    if (printing && width > PAPER / 2) { high = Math.min(high, SHEET); }
    return high + (width - 22 < NARROW ? (printing ? 2 : 17) * rows : 0);
  }

  // Where no page is, as in the interpreter that draws still pictures, only this is wanted.
  if (typeof document === 'undefined') { window.afterfitPrepare = prepare; window.afterfitTall = tall; return; }

  var root = document.documentElement, boxes = document.querySelectorAll('[data-chart]'), charts = [];

  // room is the width that a chart has, which is its figure's, or will have on paper. The
  // browser knows a figure's width also where it has not laid its content out yet.
  function room(figure, paper) { return paper ? figure.classList.contains('half') ? PAPER / 2 - 12 : PAPER : figure.clientWidth; }

  // sized gives charts their width and height. All widths are read before anything is
  // written: each look at a width after a change would lay the whole page out again. The
  // library is told both, so that it does not look either.
  function sized(some, paper) {
    some.forEach(function (c) { c.width = room(c.figure, paper); });
    some.forEach(function (c) {
      c.height = tall(Number(c.box.getAttribute('data-height')), c.option, c.width);
      c.box.style.height = c.height + 'px';
      c.figure.style.containIntrinsicHeight = 'auto ' + (c.height + WORDY) + 'px';
    });
  }

  // draw draws charts for the first time, or again for the width they have now.
  function draw(some, paper) {
    sized(some, paper);
    some.forEach(function (c) {
      if (c.chart) { c.chart.resize({ width: c.width, height: c.height }); } else {
        c.chart = window.echarts.init(c.box, null, { renderer: 'svg', width: c.width, height: c.height });
        c.chart.setOption(prepare(c.option));
        c.box.setAttribute('data-drawn', 'yes');
      }
      if (paper) { c.chart.getZr().flush(); } // no frame follows before the page is printed
    });
  }

  function folded(element) { return element.closest('details:not([open])') !== null; }

  boxes.forEach(function (box) {
    charts.push({ box: box, figure: box.closest('figure'), option: JSON.parse(document.getElementById(box.getAttribute('data-chart')).textContent) });
  });
  // What is folded away is drawn when it is opened.
  var shown = charts.filter(function (c) { return !folded(c.box); });
  draw(shown);

  // fit draws every chart for the width it has, or for the widths of paper, which the
  // page does not have before it is printed.
  function fit(paper) { draw(charts.filter(function (c) { return c.chart || paper; }), paper); }
  window.addEventListener('resize', function () { fit(printing); });

  // Tables: a button in each head sorts its column up, down, and back as it was; one
  // beside the summary copies the table as it stands, tabs between cells.

  function literal(s) { return s.replace(/[.*+?^${}()|[\]\\]/g, '\\$&'); }

  // numbers reads what a cell says as numbers, "1,234 (−5 to 6)" as 1234, -5, 6, so that
  // intervals sort by their lower end and then their upper; null where it begins with no number.
  var THOUSANDS = new RegExp('(\\d)' + (literal(WORDS.thousands) || '(?!)') + '(?=\\d{2,3})', 'g');
  var DECIMAL = new RegExp('(\\d)' + literal(WORDS.decimal) + '(?=\\d)', 'g');
  function numbers(text) {
    if (!/^[+\u2212-]?\d/.test(text)) { return null; }
    return text.replace(/\u2212/g, '-').replace(THOUSANDS, '$1').replace(DECIMAL, '$1.').match(/[+-]?\d+(?:\.\d+)?/g).map(Number);
  }

  // period reads what a cell says as a period: its days, counted roughly, or null.
  var PERIODS = null;
  function period(text) {
    PERIODS = PERIODS || WORDS.periods.split('\n').map(function (p) {
      return new RegExp('^' + literal(p).replace(literal('{year}'), '(?<year>\\d{4})').replace(literal('{day}'), '(?<day>\\d{1,2})') + '$');
    });
    for (var i = 0; i < PERIODS.length; i++) {
      var m = text.match(PERIODS[i]), month = i < 4 ? 3 * i : (i - 4) % 12;
      if (m) { return 372 * Number(m.groups.year) + 31 * month + Number(m.groups.day || 0); }
    }
    return null;
  }

  function said(cell) { return cell.textContent.replace(/[\u2066-\u2069]/g, '').trim(); }

  // order compares two cells of a column that holds numbers, or of one that holds words.
  function order(a, b, numeric) {
    if (!numeric) { return a.text.localeCompare(b.text, WORDS.language, { numeric: true }); }
    for (var i = 0; i < Math.min(a.numbers.length, b.numbers.length); i++) {
      if (a.numbers[i] !== b.numbers[i]) { return a.numbers[i] - b.numbers[i]; }
    }
    return a.numbers.length - b.numbers.length;
  }

  // sort puts the rows in order; cells without a figure come last both ways, and rows
  // that are equal keep their first order.
  function sort(table, column, numeric, direction) {
    var dated = !numeric && table.rows.every(function (row) { var text = said(row.cells[column]); return text === '' || period(text) !== null; });
    var rows = table.rows.map(function (row, i) {
      var text = said(row.cells[column]);
      return { row: row, at: i, text: text, numbers: numeric ? numbers(text) : dated && text !== '' ? [period(text)] : null };
    });
    function blank(r) { return numeric ? r.numbers === null : r.text === '' || r.text === '–'; }
    rows.sort(function (a, b) {
      if (direction === 'none') { return a.at - b.at; }
      if (blank(a) || blank(b)) { return blank(a) - blank(b) || a.at - b.at; }
      return (direction === 'descending' ? -1 : 1) * order(a, b, numeric || dated) || a.at - b.at;
    });
    rows.forEach(function (r) { table.body.appendChild(r.row); });
  }

  var NEXT = { none: 'ascending', ascending: 'descending', descending: 'none' };

  function sortable(table) {
    table.heads.forEach(function (head, column) {
      var button = document.createElement('button');
      button.type = 'button';
      button.className = 'sort';
      while (head.firstChild) { button.appendChild(head.firstChild); }
      head.appendChild(button);
      head.setAttribute('aria-sort', 'none');
      button.addEventListener('click', function () {
        var direction = NEXT[head.getAttribute('aria-sort')], numeric = head.classList.contains('num') && table.rows.some(function (row) { return numbers(said(row.cells[column])); });
        table.heads.forEach(function (h) { h.setAttribute('aria-sort', 'none'); });
        head.setAttribute('aria-sort', direction);
        sort(table, column, numeric, direction);
      });
    });
  }

  // plain is a cell as a spreadsheet takes it: a true minus as a hyphen where a number
  // follows, nothing that ends a cell, and a formula's first sign defused.
  var FIGURE = new RegExp('^[+-]\\d(?:[\\d.,%() -]|' + literal(WORDS.range.trim()) + ')*$');
  function plain(cell) {
    var text = said(cell).replace(/\s+/g, ' ').replace(/\u2212(?=\d)/g, '-');
    return /^[=+@-]/.test(text) && !FIGURE.test(text) ? "'" + text : text;
  }

  // tabbed is the table as text; what stands once above it comes back as columns.
  function tabbed(element) {
    var same = Array.prototype.map.call(element.closest('details').querySelectorAll('.same div'), function (d) { return d.children; });
    return Array.prototype.map.call(element.rows, function (row, i) {
      return Array.prototype.map.call(row.cells, plain).concat(same.map(function (s) { return plain(s[i === 0 ? 0 : 1]); })).join('\t');
    }).join('\n') + '\n';
  }

  // copy tries the clipboard, and where a browser keeps it from files, a selected field.
  function copy(text, done) {
    function byField() {
      var field = document.createElement('textarea'), before = document.activeElement;
      field.value = text;
      field.className = 'aside';
      field.setAttribute('aria-hidden', 'true');
      document.body.appendChild(field);
      field.select();
      var copied = document.execCommand('copy');
      field.remove();
      if (before) { before.focus(); }
      done(copied);
    }
    if (!navigator.clipboard) { byField(); return; }
    navigator.clipboard.writeText(text).then(function () { done(true); }, byField);
  }

  function copyable(element, fold) {
    var bar = document.createElement('p'), button = document.createElement('button'), word = document.createElement('span');
    bar.className = 'tools';
    button.type = 'button';
    button.textContent = WORDS.copy;
    word.setAttribute('role', 'status');
    button.addEventListener('click', function () {
      copy(tabbed(element), function (copied) { word.textContent = copied ? WORDS.copied : WORDS.notCopied; });
    });
    bar.appendChild(button);
    bar.appendChild(word);
    fold.insertBefore(bar, fold.querySelector('.scroll'));
  }

  // ready gives a fold its buttons and charts when it is first open.
  function ready(fold) {
    fold.querySelectorAll('table:not([data-ready])').forEach(function (element) {
      if (folded(element)) { return; }
      var body = element.tBodies[0];
      var table = { body: body, rows: Array.prototype.slice.call(body.rows), heads: Array.prototype.slice.call(element.tHead.rows[0].cells) };
      element.setAttribute('data-ready', 'yes');
      if (table.rows.length > 1) { sortable(table); }
      copyable(element, element.closest('details'));
    });
    draw(charts.filter(function (c) { return !c.chart && fold.contains(c.box) && !folded(c.box); }));
  }

  document.querySelectorAll('details[open]').forEach(ready);
  document.addEventListener('toggle', function (event) { if (event.target.open && !printing) { ready(event.target); } }, true);

  // On a small screen an open list of contents would hide the page under itself.
  var contents = document.querySelector('.contents details');
  if (contents && window.innerWidth < 1024) { contents.open = false; }

  // Paper: everything is opened but a fold that is for its reader to open, and a finding
  // that the tables tell. Long tables and those of pictures move behind the text, with a
  // number at both places, so that the first pages carry the meeting.
  var LONG = 12, moved = [], shut = [];

  function behind(fold, number, list) {
    var place = document.createElement('p'), summary = fold.querySelector('summary'), words = summary.textContent;
    place.className = 'small moved';
    place.textContent = WORDS.behind.replace('{number}', number);
    moved.push({ fold: fold, place: place, summary: summary, words: words });
    fold.parentNode.replaceChild(place, fold);
    summary.textContent = WORDS.numbered.replace('{number}', number).replace('{caption}', words.replace(WORDS.caption, ''));
    list.appendChild(fold);
  }

  function toPaper() {
    if (printing) { return; }
    printing = true;
    var list = document.createElement('section'), title = document.createElement('h2');
    list.id = 'tables';
    title.textContent = WORDS.tables;
    list.appendChild(title);
    document.querySelectorAll('main > section figure > details:not(.on-screen)').forEach(function (fold) {
      if (fold.closest('.closed')) { return; } // not printed
      var picture = fold.parentNode.querySelector('svg');
      if (picture || fold.querySelector('.telling') || fold.querySelectorAll('tbody tr').length > LONG) { behind(fold, moved.length + 1, list); }
    });
    if (moved.length > 2) { document.querySelector('main').appendChild(list); } else { back(); }
    shut = Array.prototype.filter.call(document.querySelectorAll('details:not(.fold):not(.on-screen)'), function (d) { return !d.open; });
    shut.forEach(function (d) { d.open = true; });
    fit(true);
  }

  function back() {
    moved.forEach(function (m) {
      m.summary.textContent = m.words;
      m.place.parentNode.replaceChild(m.fold, m.place);
    });
    moved = [];
  }

  function toScreen() {
    var list = document.getElementById('tables');
    back();
    if (list) { list.remove(); }
    shut.forEach(function (d) { d.open = false; });
    printing = false;
    fit();
  }

  window.addEventListener('beforeprint', toPaper);
  window.addEventListener('afterprint', toScreen);

  root.setAttribute('data-charts', document.querySelectorAll('[data-drawn]').length + ' of ' + shown.length);
  root.setAttribute('data-done', 'yes');

  // When nothing else is to do, what is far from the screen is laid out too.
  (window.requestIdleCallback || window.setTimeout)(function () { document.getElementById('main').removeAttribute('data-opening'); });
})();
