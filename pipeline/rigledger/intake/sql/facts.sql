-- What else is stated of a session: one row a fact, in place of one column a fact. Texts that a spreadsheet would run get
-- an apostrophe in front.
SELECT
  s.contributor || '.' || f.rig || '.' || f.session AS session,
  f.fact,
  if(
    f.value[1] IN ('=', '+', '-', '@', chr(9), chr(13)) AND f.unit IS NULL,
    '''' || f.value,
    f.value
  ) AS value,
  f.unit
FROM handed.facts AS f, handed.set AS s
