"""The published rules at hand for anybody signed in: a page for each calculation; nothing typed there is kept."""
