import { stringify } from 'csv-stringify/sync';
console.log(JSON.stringify(stringify([['a','b'],['',''],['x\ny','p\rq'],['"',' l '],['\'=1,2','é']],{ record_delimiter: '\r\n', quoted_match: /[\r\n]/ })))
import { CsvError, parse } from 'csv-parse/sync';
const t = (s,o={})=>{try{const r=parse(s,{info:true,relax_column_count:true,record_delimiter:['\r\n','\n','\r'],...o});console.log(JSON.stringify(r.map(x=>[x.record,x.info.lines,x.info.bytes])))}catch(e){console.log(e.code,e.lines,e instanceof CsvError)}};
t('a,b\n1,"2"3\n');t('a,b\n1,"2" \n');t('a,b\n"1\r2","2\r\n\n3"\n5,6'); t('a\rb\r\rc');
