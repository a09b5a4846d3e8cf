// Draws every chart of the page from options that the page carries as JSON, then
// marks the page done. Options are data: where the chart library wants a function,
// they hold a name, and only the names in the two registries below mean anything.
(function () {
  'use strict';
  var INK = '#222', GREY = '#6b6b6b', SERVICE = '#0072B2', BEYOND = '#D55E00';
  var NARROW = 480; // below this width a row's figure stands under its name
  var FONT = 'system-ui, "Segoe UI", "Helvetica Neue", Arial, sans-serif';

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
        out.push(text(d.name, box.x + 4, y - (narrow ? 38 : 21), { width: Math.max(60, room), overflow: 'truncate' }));
        out.push(narrow ? text(v[4], box.x + 4, y - 21, { fill: GREY }) : text(v[4], right, y - 21, { align: 'right' }));
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
        if (params.dataIndex !== 0) { return { type: 'group', children: [] }; }
        var up = [], down = [], step = series.step === 'end';
        data.forEach(function (d, i) {
          var hi = api.coord([d.value[0], d.value[2]]), lo = api.coord([d.value[0], d.value[1]]);
          if (step && i > 0) { up.push([hi[0], up[up.length - 1][1]]); down.push([lo[0], down[down.length - 1][1]]); }
          up.push(hi); down.push(lo);
        });
        return { type: 'polygon', shape: { points: up.concat(down.reverse()) }, style: { fill: series.color || SERVICE, opacity: 0.16 }, silent: true };
      };
    },
    // tags: a name written beside a point. value: [x, y, side, above or below], the last
    // two 1 or -1: right or left of it, above or below it.
    tags: function (data) {
      return function (params, api) {
        var d = data[params.dataIndex], p = api.coord(d.value), box = params.coordSys, right = d.value[2] > 0;
        if (right && p[0] > box.x + box.width - 60) { right = false; }
        return text(d.name, right ? p[0] + 8 : p[0] - 8, p[1] - 11 * d.value[3], { align: right ? 'left' : 'right' });
      };
    }
  };

  var tips = {
    item: function (p) { return p.name + '\n' + (Array.isArray(p.value) ? p.value[4] : p.value); },
    day: function (list) {
      return list.reduce(function (said, p) {
        return p.seriesType === 'line' ? said + '\n' + p.seriesName + ': ' + (Math.round(p.value[1] * 10) / 10) + '%' : said;
      }, 'Day ' + list[0].value[0]);
    }
  };

  // known looks a name up and accepts nothing that it did not register itself.
  function known(registry, name) { return Object.prototype.hasOwnProperty.call(registry, name) ? registry[name] : null; }

  function prepare(option) {
    option.animation = false;
    option.textStyle = { fontFamily: FONT, color: INK };
    option.tooltip = { renderMode: 'richText', confine: true, trigger: option.tooltip && option.tooltip.trigger || 'item',
      formatter: known(tips, option.tooltip && option.tooltip.formatter) || undefined };
    option.xAxis.concat(option.yAxis).forEach(function (axis) { axis.axisTick = { show: false }; });
    option.series.forEach(function (s) {
      if (s.type !== 'custom') { return; }
      var drawing = known(drawings, s.renderItem);
      if (!drawing) { throw new Error('no drawing of that name'); }
      s.renderItem = drawing(s.data, s);
      s.clip = false;
    });
    return option;
  }

  // tall is the height a chart wants: rows need a second line of text where it is narrow.
  function tall(box, option) {
    var rows = 0;
    option.series.forEach(function (s) { if (s.rows || s.renderItem === 'rows') { s.rows = true; rows = s.data.length; } });
    return Number(box.getAttribute('data-height')) + (box.clientWidth - 22 < NARROW ? 17 * rows : 0);
  }

  var root = document.documentElement, boxes = document.querySelectorAll('[data-chart]'), charts = [];
  boxes.forEach(function (box) {
    var source = document.getElementById(box.getAttribute('data-chart'));
    var option = JSON.parse(source.textContent);
    box.style.height = tall(box, option) + 'px';
    var chart = window.echarts.init(box, null, { renderer: 'svg' });
    chart.setOption(prepare(option));
    charts.push({ box: box, chart: chart, option: option });
    box.setAttribute('data-drawn', 'yes');
  });

  function fit() {
    charts.forEach(function (c) {
      c.box.style.height = tall(c.box, c.option) + 'px';
      c.chart.resize();
    });
  }
  window.addEventListener('resize', fit);

  // On a small screen an open list of contents would hide the page under itself.
  var contents = document.querySelector('.contents details');
  if (contents && window.innerWidth < 1024) { contents.open = false; }

  var folds = document.querySelectorAll('details'), shut = [];
  window.addEventListener('beforeprint', function () {
    shut = Array.prototype.filter.call(folds, function (d) { return !d.open; });
    shut.forEach(function (d) { d.open = true; });
    fit();
  });
  window.addEventListener('afterprint', function () {
    shut.forEach(function (d) { d.open = false; });
    fit();
  });

  root.setAttribute('data-charts', charts.length + ' of ' + boxes.length);
  root.setAttribute('data-done', 'yes');
})();
