"""What you can weigh: materials, blends, premixes, search and prices."""
