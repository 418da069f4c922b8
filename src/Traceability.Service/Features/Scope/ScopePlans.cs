using Npgsql;

namespace Traceability.Service.Features.Scope;

/// <summary>How the database plans the questions of a scope.</summary>
/// <remarks>
/// Each is planned once for any parameters: planning them anew for arrays of differing lengths took longer than answering a small scope,
/// and for long ones the planner would read tables whole. Every row is found by a key, so reading through a table is never the better way.
/// </remarks>
internal static class ScopePlans
{
    private const string Sql = "select set_config('plan_cache_mode', 'force_generic_plan', true), set_config('enable_seqscan', 'off', true)";

    /// <summary>The statement that holds the planner to that until the transaction's end, to go first in a batch.</summary>
    public static NpgsqlBatchCommand Command() => new(Sql);
}
