-- Which contributors' names count as one, and why.
select contributor, counted_as, names, together_with, because
from work.one_person
