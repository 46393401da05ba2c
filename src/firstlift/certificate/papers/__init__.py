"""The other papers of a job, of the certificate's parts: field packet, summary, nonconformity, return, planning."""
