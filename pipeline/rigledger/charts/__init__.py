"""Charts for a review: pictures of the derived tables, and the numbers under each to paste."""
