// What the pages draw with, and nothing else. README.md beside this file says how
// the bundle is built from it.
import * as core from 'echarts/core';
import { LineChart, CustomChart } from 'echarts/charts';
import { GridComponent, TooltipComponent, AriaComponent } from 'echarts/components';
import { SVGRenderer } from 'echarts/renderers';

core.use([LineChart, CustomChart, GridComponent, TooltipComponent, AriaComponent, SVGRenderer]);
window.echarts = core;
