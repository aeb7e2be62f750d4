import { valueBins } from '../../home/compute.ts';
import { listBinsOnHand } from '../../ledger/queries.ts';
import { writeMoneyForFile } from '../../money/money.ts';
import { newestQuotes } from '../../prices/queries.ts';
import { reportFigure } from '../compute.ts';
import { exportFile } from './export.ts';

export const onHand = exportFile({
  name: 'on-hand',
  sentence: 'What is in the open bins now, at the best current quote, and since when.',
  columns: ['bin', 'grade', 'net', 'unit', 'value', 'oldest_on'],
  texts: ['bin', 'grade'],
  rows({ db, clock, settings }, query) {
    const unit = query.unit ?? settings.unit;
    return valueBins(listBinsOnHand(db), newestQuotes(db, clock.today()), settings).map(({ bin, valueMinor }) => {
      const net = reportFigure(bin.mass_ug, unit);
      // A few micrograms may be left where weighings in pounds were added up; they are nothing that could be old.
      const isEmpty = /^0\.0+$/.test(net);
      return {
        bin: bin.code,
        grade: bin.grade_name,
        net,
        unit,
        value: valueMinor === null ? '' : writeMoneyForFile(valueMinor, settings.currency),
        oldest_on: isEmpty ? '' : (bin.since_on ?? ''),
      };
    });
  },
});
