-- What ties two contributors: one says so of the other, the study declares it, both have one key, or both state the same
-- physical unit. A short name of a unit is a name within one contributor and ties nobody.
select contributor as one, related_to as other, contributor || ' states ' || related_to as because
from contributors
where related_to in (select contributor from contributors) and related_to <> contributor

union all

select one, other, because
from work.declared_ties

union all

select one.contributor, other.contributor, 'same key: ' || one.contributor || ', ' || other.contributor
from contributors as one
join contributors as other
    on other.public_key = one.public_key and one.contributor < other.contributor

union all

select distinct
    one.contributor, other.contributor,
    'same unit of the platform ' || one.platform || ': ' || one.contributor || ', ' || other.contributor
from rigs as one
join rigs as other
    on other.platform = one.platform
    and other.platform_unit = one.platform_unit
    and one.contributor < other.contributor
where one.platform_unit <> 'unknown' and length(one.platform_unit) >= 8

union all

select distinct
    one.contributor, other.contributor,
    'same unit of the card ' || one.card || ': ' || one.contributor || ', ' || other.contributor
from rigs as one
join rigs as other
    on other.card = one.card and other.card_unit = one.card_unit and one.contributor < other.contributor
where one.card_unit <> 'unknown' and length(one.card_unit) >= 8
