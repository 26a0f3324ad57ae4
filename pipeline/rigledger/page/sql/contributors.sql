-- Who measured what.
SELECT contributors.contributor, contributors.shown_name,
       count(DISTINCT rigs.rig) AS rigs,
       count(DISTINCT sessions.session) AS sessions,
       count(runs.run) FILTER (runs.role = 'measured') AS runs
FROM contributors
LEFT JOIN rigs USING (contributor)
LEFT JOIN sessions USING (rig)
LEFT JOIN runs USING (session)
GROUP BY ALL
ORDER BY contributors.contributor
