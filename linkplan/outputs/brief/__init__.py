"""The site-safety brief: what the crew carries and the site manager signs, as PDF and as a page."""
