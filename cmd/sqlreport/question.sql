WITH trace AS (
  SELECT place, at FROM receipt WHERE product = 'DLZ' AND lot = '$LOT'
  UNION ALL SELECT place, at FROM item_use WHERE product = 'DLZ' AND lot = '$LOT'
  UNION ALL SELECT place, at FROM count_line WHERE product = 'DLZ' AND lot = '$LOT' AND found > 0
), span AS (
  SELECT min(at) / 86400 * 86400 AS first, max(at) AS last FROM trace
), absent AS (
  SELECT l.id, EXISTS (SELECT 1 FROM trace WHERE trace.place = l.id) AS seen,
    (SELECT k.at FROM stock_count k WHERE k.place = l.id AND k.at > (SELECT last FROM span) ORDER BY k.at LIMIT 1) AS one,
    (SELECT k.at FROM stock_count k WHERE k.place = l.id AND k.at > (SELECT last FROM span) ORDER BY k.at LIMIT 1 OFFSET 1) AS two
  FROM location l
), carried AS (
  SELECT q.id, max(p.one) AS one, max(p.two) AS two FROM absent q JOIN absent p ON p.id <> q.id AND p.seen GROUP BY q.id
), gone AS (
  SELECT max(at) AS at FROM (
    SELECT two AS at FROM absent
    UNION ALL SELECT (SELECT k.at FROM stock_count k WHERE k.place = c.id AND k.at >= c.one ORDER BY k.at LIMIT 1 OFFSET 1) FROM carried c
    UNION ALL SELECT (SELECT k.at FROM stock_count k WHERE k.place = c.id AND k.at >= c.two ORDER BY k.at LIMIT 1) FROM carried c
  ) AS counts
), gap AS (
  SELECT t.* FROM treatment t
  WHERE t.start >= (SELECT first FROM span) - 172800 AND t.start <= (SELECT at FROM gone) AND t.finish >= (SELECT first FROM span)
    AND NOT EXISTS (SELECT 1 FROM item_use u WHERE u.treatment = t.id AND u.category = 'dialyzer')
)
SELECT 'confirmed', t.id, t.patient, p.name, t.start, t.machine, t.station, u.at, u.quantity, u.how, u.actor, u.entry
  FROM item_use u JOIN treatment t ON t.id = u.treatment JOIN patient p ON p.id = t.patient
  WHERE u.product = 'DLZ' AND u.lot = '$LOT'
UNION ALL
SELECT CASE WHEN '$LOT' IN (
    (SELECT u.lot FROM item_use u WHERE u.place = g.place AND u.product = 'DLZ' AND u.at < g.start ORDER BY u.at DESC LIMIT 1),
    (SELECT u.lot FROM item_use u WHERE u.place = g.place AND u.product = 'DLZ' AND u.at >= g.start ORDER BY u.at LIMIT 1)
  ) THEN 'probable' ELSE 'cannot be excluded' END, g.id, g.patient, p.name, g.start, g.machine, g.station, NULL, NULL, NULL, NULL, NULL
  FROM gap g JOIN patient p ON p.id = g.patient
ORDER BY 1, 5, 2;
