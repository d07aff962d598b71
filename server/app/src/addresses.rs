//! The addresses under which others reach this machine.

use std::net::{IpAddr, Ipv4Addr, UdpSocket};

/// Networks of interfaces that classrooms do not use: those of containers, virtual machines and tunnels.
const NOT_A_CLASSROOM: [&str; 7] = ["docker", "br-", "veth", "virbr", "tun", "tap", "wg"];

/// Addresses of this machine on its networks, the best guess first.
pub(crate) fn of_this_machine() -> Vec<IpAddr> {
    let tables = (read("/proc/net/fib_trie"), read("/proc/net/route"));
    let mut addresses: Vec<Ipv4Addr> = local_addresses(&tables.0);
    let skipped = skipped_networks(&tables.1);
    let skip = |address: &Ipv4Addr| {
        skipped.iter().any(|(network, mask)| u32::from(*address) & mask == u32::from(*network) & mask)
    };
    addresses.retain(|address| !skip(address));
    if let Some(best) = outward() {
        addresses.retain(|address| *address != best);
        addresses.insert(0, best);
    }
    addresses.into_iter().map(IpAddr::V4).collect()
}

fn read(path: &str) -> String {
    // Systems without these tables have the outward address only.
    std::fs::read_to_string(path).unwrap_or_default()
}

/// The address that a packet to elsewhere would bear. Connecting a datagram socket sends nothing.
fn outward() -> Option<Ipv4Addr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    match socket.local_addr().ok()?.ip() {
        IpAddr::V4(address) if !address.is_loopback() && !address.is_unspecified() => Some(address),
        _ => None,
    }
}

/// Own addresses in the kernel's table of routes, which lists each before a line `/32 host LOCAL`.
fn local_addresses(table: &str) -> Vec<Ipv4Addr> {
    let mut addresses = Vec::new();
    let mut last = None;
    for line in table.lines() {
        if let Some((_, address)) = line.split_once("|-- ") {
            last = address.trim().parse::<Ipv4Addr>().ok();
        } else if line.contains("/32 host LOCAL")
            && let Some(address) = last.filter(|a| !a.is_loopback() && !a.is_link_local())
            && !addresses.contains(&address)
        {
            addresses.push(address);
        }
    }
    addresses
}

/// Network and mask of interfaces that are no classroom's.
fn skipped_networks(table: &str) -> Vec<(Ipv4Addr, u32)> {
    let mut networks = Vec::new();
    for line in table.lines().skip(1) {
        let fields: Vec<&str> = line.split_whitespace().collect();
        let &[interface, network, _, _, _, _, _, mask, ..] = fields.as_slice() else { continue };
        if !NOT_A_CLASSROOM.iter().any(|prefix| interface.starts_with(prefix)) {
            continue;
        }
        // The numbers are in the byte order of the network, read as a little-endian number.
        let number = |text: &str| u32::from_str_radix(text, 16).map(u32::swap_bytes).ok();
        if let (Some(network), Some(mask)) = (number(network), number(mask))
            && mask != 0
        {
            networks.push((Ipv4Addr::from(network), mask));
        }
    }
    networks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_addresses_are_found_and_those_of_bridges_left_out() {
        let trie = "Local:\n  +-- 0.0.0.0/0 3 0 5\n     |-- 127.0.0.1\n        /32 host LOCAL\n     |-- 172.17.0.1\n        /32 \
                    host LOCAL\n     |-- 192.168.1.20\n        /32 host LOCAL\n     |-- 192.168.1.255\n        /32 link \
                    BROADCAST\n";
        let found = local_addresses(trie);
        assert_eq!(found, [Ipv4Addr::new(172, 17, 0, 1), Ipv4Addr::new(192, 168, 1, 20)]);
        let routes = "Iface Destination Gateway Flags RefCnt Use Metric Mask MTU Window IRTT\n\
                      eth0 0001A8C0 00000000 0001 0 0 100 00FFFFFF 0 0 0\n\
                      docker0 000011AC 00000000 0001 0 0 0 0000FFFF 0 0 0\n";
        assert_eq!(skipped_networks(routes), [(Ipv4Addr::new(172, 17, 0, 0), 0xFFFF_0000)]);
    }
}
